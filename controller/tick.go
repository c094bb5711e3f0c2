package controller

import (
	"time"

	"mashward/controller/observer"
	"mashward/controller/pid"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/gravity"
	"mashward/sensors"
)

// Tick is all that the core may know about one instant.
type Tick struct {
	Now       time.Duration   // run clock: monotonic, strictly rising
	Reading   sensors.Reading // newest raw reading
	Applied   unit.Relay      // what the element's line really did during the last tick
	Inhibited bool            // heat is being withheld for a while (a cut)
	Trip      Reason          // heat is withheld until a person looks, by a rule or by its line; NoReason if not
	Weak      bool            // the checks find that about half of the power is missing
	Command   Command         // at most one wish of a person since the last tick
	Proposal  Proposal        // at most one result of a fit since the last tick
}

// Wish is what a person may ask for.
type Wish uint8

// The wishes. The zero value asks for nothing.
const (
	NoWish          Wish = iota
	Start                // declared filled, armed by a person: begin
	PouringNow           // I am pouring grain
	GrainIn              // the grain is in
	NoGrain              // no, no grain went in
	LiftingNow           // I am about to lift the bag
	BagClear             // the bag is clear of the wort, the level covers the element
	Drained              // drained; Volume is what is left
	HereLidOff           // I am here, the lid is off
	ItBoils              // it boils
	ChillerIn            // in the boil: the chiller hangs in it, its water off; later: its water runs
	AdditionDone         // the addition Which went in; 0: all that have been called out
	GoOn                 // count on although the mash is too cold
	Pause                // stop the clock, keep the temperature
	Resume               // go on
	Skip                 // leave this step
	UndoSkip             // take the skip back
	StepBack             // repeat the step before
	Extend               // By longer (or shorter)
	PumpOff              // pump off now
	PumpOn               // pump may run again
	RestBed              // pump and heat off for a while, then on again
	Stop                 // heat and pump off now
	End                  // end this batch for good
	ClearTrip            // I have looked; clear the trip (the interlock decides)
	TakeUp               // go on with an offered batch; what arming asks has been stated again, Volume with it
	TakeUpAlone          // the same by itself, as was chosen at arming
	Added                // I put in Volume at At
	TookOut              // I took out Volume, as warm as the kettle
	VolumeIs             // I have read Volume at At, the grain in it included
	LidOn                // the lid is on
	LidOff               // the lid is off
	PumpStands           // the pump has stopped by itself: it is off now
	GrainIs              // the grain that will be poured is Grain, At warm
	ThermometerSays      // another thermometer in the kettle says At
	PHIs                 // a meter says Value, in a sample At warm from Spot
	GravityIs            // Instrument says Value, in a sample At warm
	Retarget             // Step is to be at At
	ExtendByDelay        // boil longer by as much as the addition came late
	ChillDone            // it is cold enough: end the chill here
)

var wishNames = [...]string{
	"", "start", "pouring-now", "grain-in", "no-grain", "lifting-now", "bag-clear", "drained",
	"here-lid-off", "it-boils", "chiller-in", "addition-done", "go-on", "pause", "resume", "skip", "undo-skip", "step-back",
	"extend", "pump-off", "pump-on", "rest-bed", "stop", "end", "clear-trip", "take-up", "take-up-alone",
	"added", "took-out", "volume-is", "lid-on", "lid-off",
	"pump-stands", "grain-is", "thermometer-says", "ph-is", "gravity-is", "retarget",
	"extend-by-delay", "chill-done",
}

// String is the wish as a word of the interface.
func (w Wish) String() string { return named(wishNames[:], int(w)) }

// Command is one wish with its figures.
type Command struct {
	Wish   Wish
	Volume unit.Litres   // Drained: what is left, cold; TakeUp: what stands in the kettle; Added, TookOut, VolumeIs: as measured, warm
	At     unit.Celsius  // Added, VolumeIs, GrainIs: how warm that is; ThermometerSays: what it says; Retarget: the new target; PHIs, GravityIs: the sample
	By     time.Duration // Extend

	Grain      unit.Kilograms // GrainIs
	Value      float64        // PHIs, GravityIs: as read
	Spot       Spot           // PHIs
	Instrument gravity.Kind   // GravityIs
	Calibrated unit.Celsius   // GravityIs: at which a float's scale is true; 0: 20 °C
	Step       uint8          // Extend, Retarget: entry of the profile, the present one or one to come; 0: the present one
	Which      uint8          // AdditionDone: the number of the addition, from 1; 0: all that stand
}

// Proposal is the result of a fit that ran beside the loop. The core decides
// whether to take it; it is recorded with its tick and so replayed.
type Proposal struct {
	Present  bool
	Model    observer.Model // of the kettle with the mash in it
	Evidence Evidence
}

// Evidence is what speaks for a model.
type Evidence struct {
	Residual unit.Kelvin   // root mean square of what the model leaves unexplained
	Before   unit.Kelvin   // the same of the model there was
	Doubt    float64       // relative standard error of power over capacity
	Inside   bool          // no figure stands at the bound of what a kettle can be
	Span     time.Duration // length of the record behind it
}

// Prompt is the question that stands before the person.
type Prompt uint8

// The prompts. Words for them are the page's.
const (
	NoPrompt        Prompt = iota
	AskPour                // strike water is ready: pour the grain
	AskGrainIn             // say when the grain is in
	AskDidGrainGo          // the temperature fell: did grain go in?
	AskLift                // mash-out done: lift the bag
	AskBagClear            // bag clear of the wort, hoist locked, level covers the element?
	AskDrained             // drained? what is the volume?
	AskHereLidOff          // stay here, lid off, for the hot break
	AskChiller             // chiller in, water on
	AskCold                // the clock has stood still for 10 min: go on?
	AskChillerOff          // target reached: chiller off
	AskLookAtFault         // held by a trip: look, then clear it
	AskTakeUp              // offered after an outage: go on, or end it?
	AskScald               // hang in the chiller, so that the boil scalds it; the boil waits for nobody
	AskChillerWater        // the chiller hangs in already: open its water
	AskCoolToStand         // cool to the stand, by the chiller or by waiting
	AskColdest             // this is as cold as it gets: end the chill?
)

var promptNames = [...]string{
	"", "pour", "grain-in", "did-grain-go-in", "lift", "bag-clear", "drained", "here-lid-off",
	"chiller", "too-cold", "chiller-off", "look-at-fault", "go-on-or-end", "scald-chiller",
	"chiller-water", "cool-to-stand", "as-cold-as-it-gets",
}

// String is the prompt in one word.
func (p Prompt) String() string { return named(promptNames[:], int(p)) }

// Alarm is one condition that wants a person.
type Alarm uint8

// The alarms of the core. Cuts and trips are the interlock's.
const (
	AlarmHot        Alarm = iota // rest more than 0.5 K too hot
	AlarmCold                    // the rest's clock has stood still for 10 min
	AlarmNoBoil                  // a plateau too far below the boiling point
	AlarmWaiting                 // a person has been needed for too long
	AlarmLevel                   // the level comes near the element
	AlarmUnreadable              // no valid reading
	AlarmDeclared                // strike water heats otherwise than declared
	AlarmWeak                    // about half of the power is missing
	AlarmProbe                   // another thermometer says something else than the probe
	AlarmPumpOff                 // the pump stands, the probe sits in its hose: no heat
	alarmCount
)

// AlarmCount is the number of alarms.
const AlarmCount = int(alarmCount)

var alarmNames = [...]string{"too-hot", "too-cold", "no-boil", "person-needed", "level-low", "no-reading", "not-as-declared", "half-power", "probe-differs", "pump-off"}

// String is the alarm's id.
func (a Alarm) String() string { return named(alarmNames[:], int(a)) }

// Alarms is the set of conditions that stand.
type Alarms [alarmCount]bool

// EventKind is what happened.
type EventKind uint8

// The events. Each is one fact for the record and the page.
const (
	NoEvent         EventKind = iota
	BatchStarted              //
	StepStarted               // a new step
	StageChanged              // a new stage of the step
	TargetReached             // rest, strike: at target - 0.3 K; boil: the plateau
	ClockBegan                // rest, boil
	CountedBack               // Value: seconds of settling that counted
	StepEnded                 //
	AdditionDue               // Value: index of the addition
	AlarmRaised               // Value: Alarm
	AlarmCleared              // Value: Alarm
	PromptRaised              // Value: Prompt
	PumpStarts                // in PumpWarning it will run
	PumpRuns                  //
	PumpStops                 //
	GrainSuspected            // the temperature fell as if grain went in
	LoadLearned               // Value: measured over declared rise
	LoadDoubted               // Value: the same, more than 10 % beside 1 while water alone heats
	Refused                   // Value: Refusal; the command of this tick
	Accepted                  // the command of this tick
	ModeChanged               // Value: Mode
	SkipUndone                //
	ChillPlateau              // Value: °C at which chilling ended short of its target
	TimeGap                   // Value: seconds between two ticks
	ProposalSeen              // Value: 1 taken, 0 refused
	ModelDoubted              // the model of the mash does not foresee the readings any more: the loop acts on them instead
	TakenUp                   // an offered batch goes on; Value: Wish, by a person or by itself
	WaterAdded                // Value: cold litres that a person put in
	MixForeseen               // Value: °C to which they bring the kettle
	WaterTaken                // Value: cold litres that a person took out
	VolumeRead                // Value: cold litres in the kettle, as a person read them
	LidMoved                  // Value: 1 off, 0 on
	MixDoubted                // water that was told of does not show; Value: °C, the reading
	HeatBarred                // what was told leaves the element bare; Value: cold litres
	WaterUncounted            // Value: cold litres that were told of, did not show, and are not counted
	StrikeMoved               // the grain is another: Value: °C that the strike water is to have now
	ThermometerRead           // Value: °C on another thermometer
	ProbeDiffers              // Value: K by which it is above the probe, both at rest
	ProbeUncompared           // the two could not be compared then
	PHRead                    // Value: pH
	GravityRead               // Value: gravity of the sample at 20 °C
	TargetChanged             // of the event's step; Value: °C
	AdditionIn                // a person said that it went in; Value: index of the addition
	DelayOffered              // it went in late in the boil; Value: seconds by which the boil could be longer
	BoilExtended              // a person took the offer; Value: seconds
	ChillerScalds             // the chiller hangs in the boil
	ChillForeseen             // the tap is too warm for the target; Value: °C that can be reached
)

var eventNames = [...]string{
	"", "batch started", "step started", "stage", "target reached", "clock began", "counted back",
	"step ended", "addition due", "alarm raised", "alarm cleared", "prompt", "pump will start", "pump runs", "pump stops",
	"grain suspected", "load learned", "load doubted", "refused", "accepted", "batch state", "skip undone", "chill plateau", "time gap", "proposal", "model doubted", "taken up",
	"water added", "mix foreseen", "water taken", "volume read", "lid moved", "mix doubted", "heat barred",
	"water not counted", "strike moved", "thermometer read", "probe differs", "probe not compared", "pH read", "gravity read", "target changed",
	"addition in", "delay offered", "boil extended", "chiller scalds", "chill foreseen",
}

// String is the event in words.
func (k EventKind) String() string { return named(eventNames[:], int(k)) }

// Event is one fact, with the step it belongs to.
type Event struct {
	Kind  EventKind
	Step  uint8
	Value float64
}

// MaxEvents bounds the events of one tick; more are dropped and counted.
const MaxEvents = 12

// Decision is what the core wants in this tick, and all that anyone may want
// to know about why.
type Decision struct {
	Wanted unit.Relay // wish for the element; the interlock may take it away
	Pump   unit.Relay
	Duty   unit.Duty

	Mode    Mode
	Reason  Reason
	Index   uint8
	Kind    profile.Kind
	Stage   Stage
	Phase   Phase
	Prompt  Prompt
	Alarms  Alarms
	Clock   time.Duration // since arming
	Earned  time.Duration
	Left    time.Duration // of the step's own time; 0 where it has none
	Reached bool

	Target      unit.Celsius
	HasTarget   bool
	Estimate    unit.Celsius // of the mash (wort, before and after it)
	HasEstimate bool
	Filtered    unit.Celsius // the probe's filtered value
	Slope       unit.KelvinPerSecond
	Way         Way
	Stirred     bool // the pump, where there is one, turns the kettle over and nobody's hands are in it
	OnMean      bool // the loop acts on the mean that the model shows, not on the reading
	Terms       pid.Terms
	Gain        float64

	// What the interlock is told.
	Armed  bool
	Lifted bool
	Volume unit.Litres
	// Statement counts the volumes that a person has read; Drawn is what was taken
	// out since the last one, cold.
	Statement uint32
	Drawn     unit.Litres

	Water  unit.Litres   // cold, in the kettle, by all that was told
	Deeds  uint32        // what a person has told beside what the day asks, counted
	Bare   bool          // heat is barred: what was told leaves the element bare
	LidOff bool          // so a person said
	Undoes time.Duration // for which a skip can still be taken back

	Called   uint32        // additions that have been called out, a bit each
	In       uint32        // and those that a person said are in
	Late     time.Duration // by which a person may make the boil longer, for an addition that came late
	Hung     bool          // the chiller hangs in, whether its water runs or not
	Unheated bool          // there is no heat only because the reading says nothing of the kettle

	Events  [MaxEvents]Event
	Count   uint8
	Dropped uint8
}

// Refusal says why a command was refused.
type Refusal uint8

// The refusals.
const (
	NotRefused      Refusal = iota
	WrongMode               // not in this state of the batch
	WrongStage              // not at this point of the day
	GrainStillIn            // the grain has to be lifted first
	GrainNotIn              // the grain is not in yet
	TripStands              // a trip stands: clear its cause first
	TooLate                 // the skip is more than 15 s old
	NothingBefore           // there is no step to go back to
	NoClock                 // this step has no time of its own
	TooShort                // it has earned more than that already
	NeedsFigure             // the figure is missing or cannot be
	ElementBare             // that volume does not cover the element
	NoPump                  // this rig has no pump
	AlreadyStarted          //
	ArmingOver              // the arming has run out
	InTest                  // a water test takes no other wish than its end
	NotAlone                // from here on it goes on by a person's word only
	Overfull                // more than the kettle holds
	NotWater                // no temperature of water
	WouldBare               // it leaves element or probe bare: heat is off
	AlreadyPoured           // the grain is in, or is being poured
	NotGrain                // no grain for this batch
	StrikeTooHot            // too near the limit that was set at arming
	TooMuchGrain            // it would keep too much of the water
	NotPH                   // no pH of wort
	SampleWarm              // the instrument cannot be corrected at that temperature
	NotWort                 // no wort has that gravity
	NoRest                  // only rest and mash-out have a target that can be changed
	HotterThanArmed         // hotter than anything that was armed
	NothingLate             // no addition of this boil came late
)

var refusalText = [...]string{
	"", "not in this state of the batch", "not at this point of the day",
	"the grain is still in the kettle: lift it first", "the grain is not in yet", "a heat cut is latched: find its cause and clear it first",
	"a skip can be taken back for 15 s only", "there is no step to repeat", "this step has no time of its own",
	"more than that has been earned already: skip the step instead", "the figure is missing or cannot be: give it with the press",
	"that volume does not keep the element covered: add water before heating", "this rig has no pump", "the batch has been started already",
	"the arming has run out, after 12 h, or 4 h of water by hand: end this batch",
	"a water test runs by itself: stop or end it, nothing else",
	"it goes on by itself only in the mash, where it ran and nothing is wrong: it needs a person's word",
	"that is more than the kettle holds: look at the litres",
	"water is warmer than 0 °C and at most 100 °C: look at the temperature",
	"that leaves the element or the probe bare: heat is off, and stays off until you say a volume, as read, that covers them; STOP before you take out so much",
	"the grain is in, or is being poured: what it was then counts",
	"grain for this batch is more than 0 °C and at most 50 °C warm, and between half and twice what the profile has: look at the figures",
	"the strike water would come too near the limit that was set at arming, which no word raises: warm the grain, take less, or begin anew with another profile",
	"so much grain keeps so much water that element or probe would come bare after the lift: put water in first, read the kettle, and say its volume",
	"wort and mash have a pH between 3 and 9, in a sample above 0 °C and at most 100 °C: look at the meter",
	"at that temperature the instrument reads false: a float from 10 to 50 °C, a refractometer from 10 to 30 °C; let the sample cool, covered, and read again",
	"no wort has that gravity: look at the scale again, and at its unit",
	"only a rest and a mash-out can be given another target",
	"that is hotter than the hottest that was armed: end this batch, and arm a profile that says so",
	"nothing that went into this boil last came late",
}

// String is the reason in words.
func (r Refusal) String() string { return named(refusalText[:], int(r)) }
