package heat

import (
	"math"
	"testing"

	"mashward/controller/unit"
)

// Region 1 of IAPWS R7-97(2012): coefficients of table 2 for equation 7. The
// package itself carries fits; this is what they are judged by, and it is
// judged by the release's own verification values.
var region1 = [...]struct {
	i, j int
	n    float64
}{
	{0, -2, 0.14632971213167},
	{0, -1, -0.84548187169114},
	{0, 0, -0.37563603672040e1},
	{0, 1, 0.33855169168385e1},
	{0, 2, -0.95791963387872},
	{0, 3, 0.15772038513228},
	{0, 4, -0.16616417199501e-1},
	{0, 5, 0.81214629983568e-3},
	{1, -9, 0.28319080123804e-3},
	{1, -7, -0.60706301565874e-3},
	{1, -1, -0.18990068218419e-1},
	{1, 0, -0.32529748770505e-1},
	{1, 1, -0.21841717175414e-1},
	{1, 3, -0.52838357969930e-4},
	{2, -3, -0.47184321073267e-3},
	{2, 0, -0.30001780793026e-3},
	{2, 1, 0.47661393906987e-4},
	{2, 3, -0.44141845330846e-5},
	{2, 17, -0.72694996297594e-15},
	{3, -4, -0.31679644845054e-4},
	{3, 0, -0.28270797985312e-5},
	{3, 6, -0.85205128120103e-9},
	{4, -5, -0.22425281908000e-5},
	{4, -2, -0.65171222895601e-6},
	{4, 10, -0.14341729937924e-12},
	{5, -8, -0.40516996860117e-6},
	{8, -11, -0.12734301741641e-8},
	{8, -6, -0.17424871230634e-9},
	{21, -29, -0.68762131295531e-18},
	{23, -31, 0.14478307828521e-19},
	{29, -38, 0.26335781662795e-22},
	{30, -39, -0.11947622640071e-22},
	{31, -40, 0.18228094581404e-23},
	{32, -41, -0.93537087292458e-25},
}

// liquid is v in m³/kg, h in kJ/kg and cp in kJ/(kg K), from K and MPa.
func liquid(kelvin, megapascals float64) (v, h, cp float64) {
	const gas = 0.461526 // kJ/(kg K)
	tau, pi := 1386/kelvin, megapascals/16.53
	a, b := 7.1-pi, tau-1.222
	var gp, gt, gtt float64
	for _, c := range region1 {
		i, j := float64(c.i), float64(c.j)
		gp -= c.n * i * math.Pow(a, i-1) * math.Pow(b, j)
		gt += c.n * math.Pow(a, i) * j * math.Pow(b, j-1)
		gtt += c.n * math.Pow(a, i) * j * (j - 1) * math.Pow(b, j-2)
	}
	v = pi * gp * gas * kelvin / (megapascals * 1000)
	return v, tau * gt * gas * kelvin, -tau * tau * gtt * gas
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.9g, want %.9g within %g", what, got, want, tolerance)
	}
}

func TestTheTestsRegion1MeetsTheReleaseTable5(t *testing.T) {
	for _, row := range []struct{ kelvin, megapascals, v, h, cp float64 }{
		{300, 3, 0.100215168e-2, 0.115331273e3, 0.417301218e1},
		{300, 80, 0.971180894e-3, 0.184142828e3, 0.401008987e1},
		{500, 3, 0.120241800e-2, 0.975542239e3, 0.465580682e1},
	} {
		v, h, cp := liquid(row.kelvin, row.megapascals)
		near(t, "v", v, row.v, 5.1e-12) // half of the last printed digit
		near(t, "h", h, row.h, 1e-6)
		near(t, "cp", cp, row.cp, 1e-8)
	}
}

func TestDensityAndHeatOfWaterFollowIF97WithinTheirStatedError(t *testing.T) {
	const pressure = 0.101325
	_, base, _ := liquid(absoluteZero, pressure)
	for tenth := 0; tenth <= 1100; tenth++ {
		celsius := float64(tenth) / 10
		v, h, cp := liquid(celsius+absoluteZero, pressure)
		near(t, "density", WaterDensity(unit.Celsius(celsius)), 1/v/1000, 0.00001)
		near(t, "specific heat", WaterHeatAt(unit.Celsius(celsius)), cp*1000, 0.2)
		near(t, "enthalpy", float64(WaterEnergy(0, unit.Celsius(celsius))), (h-base)*1000, 20)
		if celsius >= 10 && celsius <= 100 {
			near(t, "constant specific heat", WaterHeat, cp*1000, 0.008*WaterHeat)
		}
		if celsius >= 44 && celsius <= 78 {
			near(t, "constant specific heat over a mash", WaterHeat, cp*1000, 0.002*WaterHeat)
		}
	}
}

func TestSaturationPressureMeetsTheReleaseTable35(t *testing.T) {
	for _, row := range []struct{ kelvin, megapascals float64 }{
		{300, 0.353658941e-2}, {500, 0.263889776e1}, {600, 0.123443146e2},
	} {
		got := float64(SaturationPressure(unit.Celsius(row.kelvin-absoluteZero))) / 1e6
		lastDigit := math.Pow(10, math.Floor(math.Log10(row.megapascals))-8)
		near(t, "saturation pressure, MPa", got, row.megapascals, 0.51*lastDigit)
	}
}

func TestBoilingPointMeetsTheReleaseTable36(t *testing.T) {
	for _, row := range []struct{ megapascals, kelvin float64 }{
		{0.1, 372.755919}, {1, 453.035632}, {10, 584.149488},
	} {
		got := float64(BoilingPoint(unit.Pascals(row.megapascals*1e6))) + absoluteZero
		near(t, "boiling point, K", got, row.kelvin, 5e-7)
	}
}
