package heat

import (
	"math"
	"testing"

	"mashward/controller/unit"
)

// Values of IAPWS-IF97 at 101 325 Pa, as the python3-iapws package of Debian 12
// prints them: kg/m³, kJ/(kg K), kJ/kg.
var waterTable = []struct{ celsius, density, heat, enthalpy float64 }{
	{0.01, 999.845, 4.2194, 0.103},
	{4, 999.975, 4.2074, 16.913},
	{10, 999.702, 4.1955, 42.119},
	{15, 999.101, 4.1891, 63.079},
	{20, 998.206, 4.1848, 84.013},
	{25, 997.048, 4.1819, 104.929},
	{30, 995.652, 4.1800, 125.834},
	{40, 992.224, 4.1786, 167.624},
	{45, 990.223, 4.1788, 188.517},
	{50, 988.048, 4.1796, 209.413},
	{52, 987.131, 4.1800, 217.773},
	{55, 985.707, 4.1809, 230.314},
	{60, 983.211, 4.1828, 251.223},
	{62, 982.170, 4.1837, 259.589},
	{65, 980.566, 4.1852, 272.142},
	{67, 979.468, 4.1863, 280.514},
	{70, 977.779, 4.1881, 293.075},
	{72, 976.626, 4.1894, 301.453},
	{75, 974.857, 4.1916, 314.024},
	{76, 974.256, 4.1923, 318.216},
	{78, 973.040, 4.1939, 326.602},
	{80, 971.803, 4.1955, 334.992},
	{90, 965.319, 4.2050, 376.993},
	{95, 961.895, 4.2106, 398.031},
	{99.9, 958.426, 4.2165, 418.677},
}

func TestWaterMatchesThePrintedIF97Table(t *testing.T) {
	for _, row := range waterTable {
		c := unit.Celsius(row.celsius)
		near(t, "density, kg/m³", WaterDensity(c)*1000, row.density, 0.01)
		near(t, "specific heat, kJ/(kg K)", WaterHeatAt(c)/1000, row.heat, 0.00025)
		near(t, "enthalpy above 0.01 °C, kJ/kg", float64(WaterEnergy(0.01, c))/1000, row.enthalpy-0.103, 0.02)
	}
}

// Values of IAPWS-IF97 as the python3-iapws package prints them: Pa, kJ/kg.
func TestSaturationLineMatchesThePrintedIF97Table(t *testing.T) {
	for _, row := range []struct{ celsius, pressure, latent float64 }{
		{20, 2339.2, 2453.55},
		{30, 4246.7, 2429.84},
		{40, 7384.4, 2406.00},
		{50, 12351.3, 2381.97},
		{60, 19945.8, 2357.69},
		{65, 25041.1, 2345.43},
		{70, 31200.6, 2333.08},
		{75, 38595.4, 2320.63},
		{80, 47414.7, 2308.07},
		{85, 57867.5, 2295.38},
		{90, 70182.4, 2282.56},
		{95, 84608.9, 2269.60},
		{98, 94390.2, 2261.74},
		{99, 97851.8, 2259.11},
		{100, 101418.0, 2256.47},
		{101, 105091.0, 2253.83},
	} {
		c := unit.Celsius(row.celsius)
		near(t, "saturation pressure, Pa", float64(SaturationPressure(c)), row.pressure, 0.06+row.pressure*5e-7)
		near(t, "latent heat, kJ/kg", float64(Latent(c))/1000, row.latent, 0.05)
		near(t, "and back, °C", float64(BoilingPoint(SaturationPressure(c))), row.celsius, 1e-6)
	}
	near(t, "latent heat at 101 325 Pa", float64(Latent(BoilingPoint(101325)))/1000, 2256.54, 0.05)
	near(t, "latent heat at 80 kPa", float64(Latent(BoilingPoint(80000)))/1000, 2273.54, 0.05)
}

func TestEvaporationCostsWhatIF97Says(t *testing.T) {
	boiling := BoilingPoint(101325)
	kilogramAnHour := unit.LitresPerSecond(1 / ColdDensity / 3600)
	near(t, "1 kg/h, W", float64(EvaporationPower(kilogramAnHour, boiling)), 626.8, 0.05)
	near(t, "3000 W, kg/h", float64(EvaporationRate(3000, boiling))*3600*ColdDensity, 4.786, 0.001)
}

// Pressure by ISO 2533, then boiling point by IF97; the pressures agree with
// public tables of the standard atmosphere to 0.1 Pa.
func TestBoilingPointByAltitudeMatchesISO2533(t *testing.T) {
	for _, row := range []struct{ metres, pressure, boiling float64 }{
		{-200, 103750.81, 100.6385},
		{0, 101325.00, 99.9743},
		{100, 100129.44, 99.6421},
		{200, 98945.32, 99.3098},
		{300, 97772.57, 98.9774},
		{400, 96611.11, 98.6450},
		{500, 95460.84, 98.3125},
		{600, 94321.68, 97.9799},
		{700, 93193.56, 97.6472},
		{800, 92076.38, 97.3145},
		{900, 90970.08, 96.9817},
		{1000, 89874.56, 96.6488},
		{1200, 87715.57, 95.9827},
		{1400, 85598.77, 95.3163},
		{1500, 84555.99, 94.9830},
		{1600, 83523.53, 94.6496},
		{1609.344, 83427.58, 94.6184},
		{1800, 81489.21, 93.9825},
		{2000, 79495.20, 93.3151},
		{2240, 77154.74, 92.5137},
		{2500, 74682.52, 91.6449},
		{2850, 71456.21, 90.4743},
		{3000, 70108.53, 89.9723},
		{3640, 64587.53, 87.8276},
		{4000, 61640.21, 86.6193},
		{5000, 54019.89, 83.2549},
	} {
		near(t, "pressure, Pa", float64(PressureAt(unit.Metres(row.metres))), row.pressure, 0.006)
		near(t, "boiling point, °C", float64(BoilingPointAt(unit.Metres(row.metres))), row.boiling, 0.00006)
	}
}

// IF97 saturation temperatures.
func TestBoilingPointByStationPressureMatchesIF97(t *testing.T) {
	for _, row := range []struct{ kilopascals, boiling float64 }{
		{70, 89.932},
		{80, 93.485},
		{90, 96.687},
		{95, 98.178},
		{96, 98.469},
		{97, 98.757},
		{98, 99.042},
		{99, 99.325},
		{100, 99.606},
		{101, 99.884},
		{101.325, 99.974},
		{102, 100.160},
		{103, 100.434},
		{104, 100.706},
	} {
		near(t, "boiling point, °C", float64(BoilingPoint(unit.Pascals(row.kilopascals*1000))), row.boiling, 0.0006)
	}
}

func TestVolumesExpandAsIF97Says(t *testing.T) {
	near(t, "20 °C to boiling", float64(HotVolume(1, 99.9743)), 1.0416, 0.0001)
	near(t, "20 to 75 °C", float64(HotVolume(1, 75)), 1.0240, 0.0001)
	near(t, "26 L weigh, kg", float64(ColdMass(26)), 25.953, 0.001)
	near(t, "and back, L", float64(ColdVolume(ColdMass(26))), 26, 1e-12)
}

func TestValuesOutOfRangeStayFiniteAndOnTheSafeSide(t *testing.T) {
	missing := math.NaN()
	for _, v := range []float64{
		WaterDensity(unit.Celsius(missing)), WaterHeatAt(unit.Celsius(missing)), WaterDensity(-400), WaterHeatAt(1e9),
		float64(Latent(unit.Celsius(missing))), float64(SaturationPressure(unit.Celsius(missing))),
		float64(SaturationPressure(5000)), float64(BoilingPoint(-1)), float64(PressureAt(unit.Metres(missing))),
	} {
		if math.IsNaN(v) || math.IsInf(v, 0) || v < -1e-3 {
			t.Errorf("a value out of range gave %g", v)
		}
	}
	if got := BoilingPoint(unit.Pascals(missing)); got > 0.001 {
		t.Errorf("a missing pressure gave a boiling point of %g °C, want the lowest", got)
	}
	if got, sea := BoilingPointAt(unit.Metres(missing)), BoilingPointAt(0); !(got < sea) {
		t.Errorf("a missing altitude gave a boiling point of %g °C, want one below the sea's %g", got, sea)
	}
	near(t, "critical pressure, MPa", float64(SaturationPressure(400))/1e6, 22.064, 0.001)
}

// A volume read from a warm kettle, by the densities above: 23.1 L at 76 °C are
// 23.1·974.256/998.206 cold litres, and 2 L at 60 °C are 2·983.211/998.206.
func TestAWarmVolumeIsFewerColdLitresAsIF97Says(t *testing.T) {
	near(t, "23.1 L at 76 °C", float64(ColdFrom(23.1, 76)), 22.5458, 0.0003)
	near(t, "2 L at 60 °C", float64(ColdFrom(2, 60)), 1.96996, 0.0001)
	for _, row := range waterTable {
		c := unit.Celsius(row.celsius)
		near(t, "there and back", float64(HotVolume(ColdFrom(30, c), c)), 30, 1e-12)
	}
}

// The method of mixtures, an example by hand: 2 kg at 80 °C and 3 kg at 20 °C of
// the same water come to (160 + 60)/5 = 44 °C.
func TestMixtureByHand(t *testing.T) {
	near(t, "2 kg at 80 °C in 3 kg at 20 °C", float64(Mixture(3*WaterHeat, 20, 2*WaterHeat, 80)), 44, 1e-12)
	near(t, "nothing at all", float64(Mixture(5000, 20, 0, 80)), 20, 0)
}
