//! A test and a reading as scripts write them (JSON), and as the program computes with them.

/// An instrument.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Instrument {
    /// volts, DC, the bench's input resistance
    VoltsDc,
    /// true rms of the AC part
    VoltsAc,
    /// volts through 3 kohm
    VoltsLoz,
    /// 0.6 V behind 1.7 kohm, V/I at the probes
    Ohms,
    /// beeper
    Beep,
    /// 0.03 ohm in the place of what `open` names
    AmpsDc,
    /// the bench's lamp
    TestLamp,
    /// looking at a part
    Watch,
}

/// Settings put on top of each other, in the order done.
pub type Settings = Vec<(String, String)>;

/// One placement of an instrument (or one look at a part).
#[derive(Clone, Debug, PartialEq)]
pub struct Test {
    /// The instrument.
    pub instrument: Instrument,
    /// Where red goes.
    pub red: Option<String>,
    /// Where black goes.
    pub black: Option<String>,
    /// The part watched.
    pub part: Option<String>,
    /// Watch while this control goes from one setting to another.
    pub change: Option<(String, [String; 2])>,
    /// Controls set, others at rest.
    pub set: Settings,
    /// Earlier steps.
    pub after: Vec<Settings>,
    /// What is unplugged, taken out, lifted.
    pub open: Vec<String>,
    /// Two points and what is put between them.
    pub bridge: Vec<Bridge>,
    /// What is fitted in a part's place.
    pub fit: Vec<(String, Fit)>,
    /// What is done to it while reading.
    pub disturb: Option<(String, String)>,
    /// The same placement again with these settings on top.
    pub then: Vec<Settings>,
}

/// A bridge.
#[derive(Clone, Debug, PartialEq)]
pub struct Bridge {
    /// One end.
    pub a: String,
    /// The other.
    pub b: String,
    /// What is in it.
    pub with: BridgeWith,
}

/// What is in a bridge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum BridgeWith {
    /// A 20 mohm lead.
    Lead,
    /// A lamp of so many watts (12 V).
    Lamp(f64),
    /// A fuse of so many amps.
    Fuse(f64),
    /// ohm
    Resistor(f64),
}

/// What is fitted in a part's place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fit {
    /// A steady load of so many amps at 12 V.
    Load(f64),
    /// A known good one.
    Good,
}

/// What an instrument or an eye answers.
#[derive(Clone, Debug, PartialEq)]
pub enum Reading {
    /// A value in V, A or ohm; `step` is the digits' worth if it is not the instrument's own.
    Value {
        /// the value
        value: f64,
        /// the display's step, if told
        step: Option<f64>,
    },
    /// Swings between two values.
    Range {
        /// one
        from: f64,
        /// the other
        to: f64,
    },
    /// Over range (`OL`).
    Over,
    /// The beeper.
    Beeps(bool),
    /// A showing word: `lit`, `moves-up`.
    Showing(String),
    /// The instrument refuses: the path is live.
    Live,
}
