package house

// module is the path that go.mod declares.
const module = "mashward"

// kind is how a package stands to the world.
type kind uint8

const (
	pure  kind = iota // values in, values out: no clock, file, net, lock, goroutine
	shell             // touches the world, and decides nothing
)

// row is what one package may do. House paths are written without the module.
type row struct {
	path    string
	kind    kind
	house   string // packages of the house it may import directly, by exact path
	outside string // imports it may have beyond what its kind allows, /... for all below; needs why
	clock   bool   // a shell that may read a clock or start a timer; needs why
	hands   string // names of package time it may hand on as a value, though not call; needs why
	coming  bool   // the package is on its way and need not be there yet
	why     string
}

// policy is the import graph. A package may import what its row names and
// nothing else of the house. The order is from the ground up.
var policy = []row{
	{path: "controller/unit"},
	{
		path: "profile/strict", house: "controller/unit", outside: "gopkg.in/yaml.v3",
		why: "the one place that knows YAML; every other package sees typed values with their positions",
	},
	{path: "profile", house: "controller/unit profile/strict"},
	{path: "profile/heat", house: "controller/unit"},
	{path: "profile/plan", house: "controller/unit profile profile/enzyme profile/heat profile/gravity"},
	{path: "profile/enzyme", house: "controller/unit"},
	{path: "profile/gravity", house: "controller/unit profile/heat"},

	{path: "sensors", house: "controller/unit"},
	{path: "sensors/estimate", house: "controller/unit sensors"},

	{path: "sensors/ds18b20", house: "controller/unit sensors"},
	{
		path: "sensors/sampler", kind: shell, house: "controller/unit sensors", clock: true,
		why: "the pause between two questions to a probe; the age of a reading is on the run clock it is given",
	},
	{
		path: "sensors/ds248x", kind: shell, house: "controller/unit sensors sensors/ds18b20", clock: true,
		outside: "periph.io/x/conn/v3/... periph.io/x/devices/v3/ds248x periph.io/x/host/v3/sysfs",
		why:     "the one place that speaks through periph: to a chip on the I²C bus; clock: it waits for the thermometer to convert",
	},
	{path: "sensors/sysfs", kind: shell, house: "controller/unit sensors"},
	{path: "sensors/w1", kind: shell, house: "controller/unit sensors sensors/ds18b20 sensors/sysfs"},

	{path: "controller/pid", house: "controller/unit"},
	{path: "controller/modulate", house: "controller/unit"},
	{path: "controller/interlock", house: "controller/unit sensors"},
	// What must always hold is judged without the code that is judged.
	{path: "controller/invariant", house: "controller/unit sensors"},
	{path: "controller/observer", house: "controller/unit"},
	{path: "controller/verify", house: "controller/unit controller/observer profile/heat sensors"},
	// One model: what the test finds is what the observer runs on, and the gains
	// of the law are worked out from it. A second model would drift from the first.
	// heat: what escapes under a lid grows as the vapour pressure does.
	{path: "controller/tune", house: "controller/unit controller/observer controller/pid profile/heat"},
	{
		path:  "controller",
		house: "controller/unit controller/observer controller/pid controller/modulate controller/tune profile profile/gravity profile/heat sensors sensors/estimate",
	},
	{
		path: "controller/line", kind: shell, house: "controller/unit", clock: true,
		why: "the lease: its timers take heat away when nobody renews it",
	},
	{path: "controller/line/gpio", kind: shell, house: "controller/unit controller/line"},
	{path: "controller/line/sysfs", kind: shell, house: "controller/unit controller/line"},
	{
		path: "controller/line/keeper", kind: shell, house: "controller/unit controller/line", clock: true,
		why: "the keeper's own clock says how old a request for heat is; how long an answer is waited for",
	},
	{
		path: "controller/loop", kind: shell,
		house: "controller controller/unit controller/interlock controller/invariant controller/line controller/modulate controller/verify profile sensors",
		why:   "modulate, profile: the kinds of relays and of steps, for what is held to be always so",
	},
	{
		path: "controller/record", kind: shell,
		house: "controller controller/unit controller/interlock controller/invariant controller/loop controller/verify profile profile/gravity sensors",
		why:   "profile: the step list as edited is part of the State it stores; gravity: the instruments that a reading names",
	},

	{path: "sim/fault", house: "controller/unit profile/strict"},
	{
		path: "sim", house: "controller/unit profile/heat profile/strict sensors sim/fault", outside: "math/rand/v2 sync/atomic",
		why: "noise is a generator held by value, seeded by the caller; Drop of its line may come from any goroutine",
	},
	{
		path: "sim/kettles", house: "controller/unit profile/heat sim", outside: "math/rand/v2",
		why: "random kettles, each from its seed",
	},

	{path: "testdata", kind: shell},
	{
		path: "deploy/yardstick", kind: shell, clock: true,
		why: "it waits for what a program writes on a terminal of a test",
	},
	{
		path: "deploy/explore", kind: shell, outside: "pgregory.net/rapid",
		why: "for tests only: one way to explore a property at random",
	},
	{
		path: "deploy/mutants", kind: shell, clock: true,
		why: "clock: it says how long the tests took to catch a mutant",
	},
	{
		path: "cmd/internal/config", kind: shell,
		house: "controller/unit controller/observer controller/pid controller/tune profile profile/heat profile/plan profile/strict sim sim/fault cmd/internal/notice",
		why:   "strict: it reads rig and tuning files; the others: it fills their parameters, so that they need not know the rig",
	},
	{path: "cmd/internal/say", kind: shell, house: "controller controller/unit controller/verify profile profile/gravity"},
	{path: "cmd/internal/learn", kind: shell, house: "controller controller/loop controller/observer controller/tune controller/unit profile"},
	{
		path: "cmd/internal/suggest", kind: shell,
		house: "controller controller/unit controller/loop controller/record controller/tune profile/heat sensors cmd/internal/wort",
	},
	{path: "cmd/internal/enzymes", kind: shell, house: "controller controller/unit controller/loop controller/record profile profile/enzyme"},
	{
		path: "cmd/internal/account", kind: shell,
		house: "controller controller/unit controller/interlock controller/loop controller/modulate controller/record profile profile/enzyme profile/heat profile/plan " +
			"profile/strict cmd/internal/ahead cmd/internal/config cmd/internal/enzymes cmd/internal/late cmd/internal/late/follow cmd/internal/metricset cmd/internal/rehearse cmd/internal/say cmd/internal/suggest cmd/internal/wort",
	},
	{
		path: "cmd/internal/bundle", kind: shell,
		house: "controller/record profile profile/strict cmd/internal/account cmd/internal/late/follow cmd/internal/config",
	},
	{path: "cmd/internal/wort", kind: shell, house: "controller controller/unit controller/loop controller/record profile profile/gravity profile/heat"},
	{
		path: "cmd/internal/ahead", kind: shell,
		house: "controller controller/unit controller/interlock controller/loop controller/record profile profile/enzyme profile/heat profile/plan cmd/internal/say",
	},
	{path: "cmd/internal/notice", kind: shell, house: "controller/unit profile/strict"},
	{path: "cmd/internal/late", house: "controller controller/unit profile profile/heat profile/plan"},
	{
		path: "cmd/internal/late/follow", kind: shell,
		house: "controller controller/interlock controller/loop controller/record profile profile/plan cmd/internal/late",
	},
	{path: "cmd/internal/moments", kind: shell, house: "controller profile profile/plan cmd/internal/ahead"},
	{path: "cmd/internal/schema"},
	{
		path: "cmd/internal/report", kind: shell,
		house: "controller controller/unit controller/interlock controller/loop controller/record profile profile/enzyme profile/plan " +
			"cmd/internal/account cmd/internal/config cmd/internal/late cmd/internal/picture cmd/internal/rehearse cmd/internal/say cmd/internal/suggest",
	},
	{path: "cmd/internal/picture", house: "controller/unit profile profile/plan"},
	{
		path: "cmd/internal/metricset", kind: shell,
		house: "controller controller/unit controller/interlock controller/loop profile profile/plan sensors cmd/internal/late cmd/internal/late/follow",
	},
	{
		path: "cmd/internal/rehearse", kind: shell, clock: true,
		house: "controller controller/unit controller/interlock controller/line controller/loop controller/modulate " +
			"controller/record controller/tune controller/observer controller/verify profile profile/enzyme profile/heat profile/plan sensors sim sim/fault " +
			"sim/kettles cmd/internal/config cmd/internal/late/follow cmd/internal/learn cmd/internal/say",
		why: "clock: the deadline on the socket of a plant in another process; no decision sees it",
	},
	{path: "cmd/internal/house", kind: shell},
	{
		path: "cmd/bench", kind: shell,
		house: "controller controller/unit controller/loop controller/modulate controller/observer controller/pid controller/tune " +
			"profile/plan sensors sensors/estimate sim sim/kettles cmd/internal/config cmd/internal/rehearse",
	},
	{path: "cmd/dashboard", kind: shell, house: "controller controller/interlock profile cmd/internal/metricset"},
	{
		path: "deploy/board", kind: shell, clock: true,
		why: "it waits, inside and outside of an emulated board, for what the program does there",
	},
	{
		path: "cmd/mashward/internal/wall", kind: shell, clock: true,
		why: "the one place where time really passes: it paces what a person watches",
	},
	{
		path: "cmd/mashward/internal/daemon", kind: shell, clock: true,
		house: "controller controller/unit controller/interlock controller/line controller/loop controller/record profile profile/enzyme profile/heat profile/plan " +
			"profile/strict sensors sim sim/fault cmd/internal/ahead cmd/internal/config cmd/internal/enzymes cmd/internal/learn cmd/internal/rehearse cmd/internal/say cmd/internal/suggest " +
			"cmd/internal/wort cmd/internal/late cmd/internal/late/follow cmd/mashward/internal/wall",
		why: "clock: it looks at the folder of profiles now and then; the batch does not wait for it",
	},
	{
		path: "cmd/mashward/internal/hardware", kind: shell, clock: true,
		house: "controller controller/unit controller/line controller/line/gpio controller/line/keeper controller/line/sysfs controller/loop profile " +
			"sensors sensors/ds248x sensors/sampler sensors/sysfs sensors/w1 cmd/internal/config cmd/mashward/internal/daemon cmd/mashward/internal/wall",
		why: "clock: the run clock of a real kettle begins here; element-off tries again for a while",
	},
	{path: "cmd/mashward/internal/systemd", kind: shell, house: "controller/loop sensors"},
	{
		path: "cmd/mashward/internal/view", kind: shell,
		house: "controller controller/unit controller/interlock profile profile/enzyme profile/plan cmd/internal/ahead cmd/internal/late cmd/internal/moments cmd/internal/say cmd/internal/suggest cmd/internal/wort cmd/mashward/internal/daemon",
	},
	{
		path: "cmd/mashward/internal/notify", kind: shell, clock: true,
		house: "controller controller/interlock cmd/internal/notice cmd/internal/say cmd/mashward/internal/daemon cmd/mashward/internal/view",
		why:   "clock: it looks once a second, and waits between two attempts; nothing in it reaches the loop",
	},
	{path: "cmd/mashward/internal/web", kind: shell},
	{
		path: "cmd/mashward/internal/pairing", kind: shell, outside: "rsc.io/qr",
		house: "controller/record cmd/mashward/internal/web",
		why:   "record: a small file that a power cut leaves whole",
	},
	{
		path: "cmd/mashward/internal/api", kind: shell, clock: true,
		house: "controller controller/unit controller/record profile profile/gravity profile/plan profile/strict cmd/internal/account cmd/internal/ahead cmd/internal/bundle cmd/internal/config " +
			"cmd/internal/rehearse cmd/internal/report cmd/mashward/internal/daemon cmd/mashward/internal/notify cmd/mashward/internal/pairing cmd/mashward/internal/view cmd/mashward/internal/web",
		why: "clock: deadlines of connections and the pace of the stream; nothing in it reaches the loop",
	},
	{
		path: "cmd/mashward/internal/page", kind: shell,
		house: "controller controller/unit controller/interlock controller/record profile profile/gravity profile/plan profile/strict " +
			"cmd/internal/account cmd/internal/ahead cmd/internal/config cmd/internal/rehearse cmd/internal/say " +
			"cmd/internal/moments cmd/internal/picture cmd/internal/schema cmd/mashward/internal/daemon cmd/mashward/internal/notify cmd/mashward/internal/pairing cmd/mashward/internal/view cmd/mashward/internal/web",
	},
	{
		path: "cmd/mashward/internal/metrics", kind: shell, outside: "github.com/prometheus/client_golang/...",
		house: "controller controller/unit controller/interlock controller/loop profile sensors cmd/internal/metricset " +
			"cmd/mashward/internal/daemon cmd/mashward/internal/view cmd/mashward/internal/wall",
		why: "the one place that speaks the metrics format; read from the latest frame at each scrape; wall: how late the ticks came is counted there",
	},
	{
		path: "cmd/mashward", kind: shell, hands: "Now",
		house: "controller controller/unit controller/interlock controller/line controller/loop controller/pid controller/record controller/tune " +
			"profile profile/enzyme profile/gravity profile/heat profile/plan profile/strict sensors cmd/internal/enzymes cmd/mashward/internal/hardware cmd/mashward/internal/systemd " +
			"sim sim/fault testdata cmd/internal/account cmd/internal/ahead cmd/internal/bundle cmd/internal/config cmd/internal/metricset cmd/internal/picture cmd/internal/rehearse cmd/internal/report " +
			"cmd/internal/late cmd/internal/moments cmd/internal/say cmd/internal/schema cmd/internal/suggest cmd/internal/wort cmd/mashward/internal/wall " +
			"cmd/mashward/internal/daemon cmd/mashward/internal/view cmd/mashward/internal/web cmd/mashward/internal/page cmd/mashward/internal/metrics " +
			"cmd/mashward/internal/api cmd/internal/notice cmd/mashward/internal/notify cmd/mashward/internal/pairing",
		why: "it binds everything together; Now: serve and demo hand the wall clock to what shows the time of day, and never ask it themselves; " +
			"gravity: a gravity that is wished for is read; pid, heat, tune: the command that finds out about a kettle tells what it found; line: an error of a line has its exit code",
	},
}

// never is what must not be reached even through others, by exact path. Rows
// for packages yet to come take effect with them.
var never = []struct {
	path, others, why string
}{
	{
		"controller/interlock", "controller controller/pid profile sensors/estimate",
		"a guard that trusts the filter or the target of the guarded is blind with it",
	},
	{
		"controller/invariant", "controller controller/interlock controller/loop controller/verify",
		"a judge that asks the judged is none",
	},
	{
		"controller/verify", "controller controller/pid profile sensors/estimate",
		"its findings must not come from the law they judge",
	},
	{
		"controller", "controller/interlock controller/loop controller/record controller/line sim",
		"the core decides; it must not learn who carries it out or watches",
	},
	{
		"sim", "controller controller/pid controller/modulate controller/interlock controller/observer sensors/estimate",
		"a controller tested on its own model is not tested",
	},
}

// world is what a pure package must not import, itself or anything below it.
var world = []string{
	"os", "net", "log", "sync", "context", "syscall", "runtime", "unsafe", "plugin",
	"math/rand", "crypto/rand", "io/ioutil", "expvar", "testing",
}

// durations is all that a pure package may take from package time.
var durations = []string{"Duration", "Nanosecond", "Microsecond", "Millisecond", "Second", "Minute", "Hour"}

// clocks are the names of package time that read a clock or wait for one.
var clocks = []string{"Now", "Since", "Until", "Sleep", "After", "AfterFunc", "NewTimer", "NewTicker", "Tick"}

// generators is what may be taken from math/rand/v2: a generator that is a
// value with a seed, never the global one.
var generators = []string{"New", "NewPCG", "NewChaCha8", "Rand", "PCG", "ChaCha8", "Source"}
