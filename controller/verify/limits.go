package verify

import "time"

// The figures below were chosen on simulated kettles of sim/kettles with the
// seeds that are named in cmd/internal/rehearse/campaign_test.go, and are judged on
// others.
const (
	longestGap   = 5 * time.Second  // a longer one between two ticks: all begins anew
	longestQuiet = 30 * time.Second // the same for a silence of the probe

	// For so long nothing is judged after a start, a change of what stands in
	// the kettle, the pump going on or off under a bed, hands in the kettle, and
	// cold water that came in.
	firstBlank = 20 * time.Second
	sceneBlank = 3 * time.Minute
	flowBlank  = 5 * time.Minute // the pump begins to even out what stood apart
	coldBlank  = 3 * time.Minute
	muchBlank  = 6 * time.Minute // so much that it looked like air

	coldest = -5.0 // °C: readings outside are none
	hottest = 110.0

	nearBoil = 5.0 // K: from so far below the boiling point on, power may leave as steam

	// Times of averages, s.
	shortOver   = 30.0
	longOver    = 45.0 // and the model's lag
	dueOver     = 15.0
	slowOver    = 180.0
	noiseOver   = 60.0
	quickOver   = 10.0
	lazyOver    = 60.0
	flickerOver = 600.0
)

// The dead zones, as shares of full power.
const (
	// Too much: a fifth less volume and a tenth more power are 0.36; the element's
	// share is scaled with what was switched on, the rest covers the loss.
	mostIdle   = 0.25
	mostSteady = 0.12
	mostByDuty = 0.30
	// A surplus that a heat-up of water alone has shown comes on top.
	mostSurplus   = 0.5
	steadyDue     = 0.8
	surplusOver   = 90.0 // s
	surplusWeight = 1.5  // places part the further the more power
	// While heat begins or ends, places in the kettle part or meet; how far,
	// hangs on a turnover that nobody has measured.
	mostByChange = 0.40
	// Missing: half of the power is no trip (one of two elements: a warning); nor
	// is a third less together with an open lid.
	leastByDuty  = 0.58
	leastInBed   = 0.53 // with the pump off, the hot wort outside warms it a little
	leastAtFirst = 0.56 // the same while a heat-up begins: where all lags more than usual, the bed follows late
	warmedUp     = 0.5  // the same: what half a kelvin by cold water takes is over before
	begun        = 0.6  // of full power, over some minutes
	leastWeak    = 0.30
	beginsBy     = 0.3 // what leaves the element is so much more than over some minutes
	// In the bed so much of what was seen of the power before is left under an open lid,
	// or with one of two elements.
	bedLeft   = 0.38
	baseKept  = 0.75
	baseLeast = 60.0  // s
	baseOver  = 300.0 // s
	// Below this share nothing can be said of heat that is missing.
	leastSaid = 0.12
	// Below this share little is switched on.
	leastDue = 0.30
	// Above it much: no rest takes it for long.
	muchDue = 0.50
	// An element cannot take away more than it was to give. What falls faster is
	// cold water.
	coldByDuty  = 1.40
	coldInHose  = 1.80
	coldSteady  = 0.20
	mostMissing = 1.05
	wrongLoss   = 0.3 // of the declared loss
	coldClear   = 2.0 // nothing else takes away so much
	coldSmall   = 0.12
	coldFall    = 0.18 // K in about a minute: in the bed nothing else falls so fast
	coldSum     = 8.0  // s of full power
	// A welded relay in a kettle a fifth emptier than stated is 1.25; more, with
	// little switched on, is hot water.
	hotShare   = 1.6
	hotIdle    = 4.0
	pouredOnce = 10 * time.Minute
	// Behind a batch: a leap of the reading by water, so much within so many readings;
	// another one begins when there has been none for so long.
	leapLeast   = 2.0 // K
	leapOver    = 10
	leapDone    = time.Minute
	leapBlank   = 150 * time.Second
	usualNoise  = 0.1  // K
	mostOwn     = 0.15 // K
	noiseWeight = 2.0
	jump        = 2.0 // K beside the model
	jumpFor     = 6   // readings: more than two or three spikes in four give a median of three
)

// The sums at which something is found, s of full power.
const (
	offSum      = 14.0 // heat while little was switched on
	pumpSum     = 16.0 // outlet: more heat than switched on
	fastSum     = 30.0 // return
	bedSum      = 14.0 // bed: rises when the kettle is nearly empty
	missingSum  = 15.0
	bedMissing  = 8.0
	bedUncommon = 30.0 // bed, but for a steady heat-up: cold water takes minutes to get there
	bedFell     = 3.0  // bed: less than is seen of the power before
	heatUp      = 0.7  // mean duty of a steady heat-up
	suddenDue   = 0.65 // what leaves the element as heat begins to be missing in it
	fullDue     = 0.95 // and what leaves the element in it
	weakSum     = 20.0
	roomDoubt   = 3.0 // K: how far the room may be off what was declared
	weakGone    = 2.0
	leastGiven  = 0.65   // of the declared power is there at least
	budgetPower = 1200.0 // s of full power that nothing can account for
)

// The rules about slopes and repetition.
const (
	// A probe in air falls towards the room within half a minute: this share of
	// the way within ten seconds is no wort. Cold water can do the same at the
	// place where it is poured in; it is a cut, and soon over.
	hoseFall   = 0.2 // K
	outShare   = 0.10
	outLeast   = 1.2 // K
	outBlank   = 2.5 // so many times as much while the kettle mixes
	outBack    = 0.35
	outTold    = 0.6 // the same while water mixes that a person told of: no probe in air stops there
	outFalling = 0.5 // K within ten seconds: it still falls
	outMost    = 10 * time.Minute
	touchLeast = 4.0 // K within ten seconds
	touchShare = 0.15
	// The reading may be so far above what all heat can have made of just over half
	// of the load: places part, and come together again.
	leastLoad   = 0.55
	ceilingOver = 180.0 // s
	aboveMost   = 3.0   // K
	aboveFor    = 10.0  // s
	hotWater    = 10.0  // K
	unheated    = 0.02  // of full power, over some minutes
	// With grain in, while much heat was given: for so long, while it rose before by as much
	// of full power. What all power only just holds, with the lid off, stands too.
	standingFor  = 120 * time.Second
	standingDrop = 0.2
	oldFrom      = 8 // s: the older readings of a slope
	oldTo        = 12
	newTo        = 5
	olderFrom    = 16 // s: those before them, and how much a fall may have risen since, K
	olderTo      = 20
	olderRise    = 0.5
	stuckFor     = 120 * time.Second
	stuckUsual   = 15.0 // s: a probe that shows noise has changed by then
	// Changes of two to five steps of the probe that turn back are its own noise;
	// with less than one in a hundred it may repeat.
	flickerLeast = 1.9
	flickerMost  = 5.1
	flickers     = 0.01
	continuous   = 1e-3 // K: no steps
	holdFinding  = 20 * time.Second
	holdWelded   = 5 * time.Minute // longer than it takes to find it again, the pump off by now
)
