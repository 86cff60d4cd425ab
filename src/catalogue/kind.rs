//! A part kind: pins, ratings, elements between pins, showings, faults, repairs.

use crate::text::quantity::Unit;
use indexmap::IndexMap;

/// In a mode's `does`: every contact that was made from the switch's table.
pub const ALL_CONTACTS: &str = "table";

/// Parameter name by which [`Action::Set`], [`Action::Scale`] and [`Action::Fix`] mean [`Element::blows`].
pub const BLOWS: &str = "blows";

impl Kind {
    /// Is it a fuse or the like: something that blows?
    pub fn is_fuse(&self) -> bool {
        self.elements.values().any(|element| element.blows.is_some())
    }
}

/// A kind of part, one file of `rules/kinds/`.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Kind {
    /// `horn`
    pub name: String,
    /// Other names people use for it, for the wiring file and for complaints: `hooter`.
    pub also: Vec<String>,
    /// One line for people.
    pub about: String,
    /// Pin name to its other names (DIN 72552 numbers among them), in order.
    pub pins: IndexMap<String, Vec<String>>,
    /// Ratings by name.
    pub ratings: IndexMap<String, Rating>,
    /// What a person or the machine sets it to.
    pub control: Option<Control>,
    /// A switch's default table: setting to groups of pins joined. Its contacts are made from it.
    pub table: IndexMap<String, Vec<Vec<String>>>,
    /// Ohms of a contact made from the table (or from the part's own table), and the ln-spread of it.
    pub table_ohms: (f64, f64),
    /// True if a wiring file may give a table of its own (its wires become the pins).
    pub own_table: bool,
    /// Elements between pins (or named inner nodes, written `.name`), by name.
    pub elements: IndexMap<String, Element>,
    /// What is seen, heard, felt.
    pub showings: Vec<Showing>,
    /// What can be wrong with it.
    pub modes: IndexMap<String, Mode>,
    /// Repairs by name: `replace`, `clean`.
    pub repairs: IndexMap<String, Repair>,
    /// Said at the step where it matters.
    pub cautions: Vec<String>,
    /// Where its figures come from, or "common practice, no source".
    pub source: String,
}

/// A rating of a kind.
#[derive(Clone, Debug, PartialEq)]
pub struct Rating {
    /// Its unit.
    pub unit: Unit,
    /// Used where the file gives none.
    pub default: f64,
    /// Standard deviation of ln(value).
    pub spread: f64,
    /// Where the default comes from.
    pub source: Option<String>,
}

/// A control.
#[derive(Clone, Debug, PartialEq)]
pub struct Control {
    /// `None`: the control is called by its part. `Some("coolant")`: a control that the whole machine shares.
    pub shared: Option<String>,
    /// Settings, the first at rest.
    pub settings: Vec<String>,
    /// Settings that must be held by hand.
    pub held: Vec<String>,
    /// How a person is told to set it: setting to words with `{}` for the part, `press {}`.
    pub say: IndexMap<String, String>,
    /// What the engine has to be doing for a setting: nobody puts a running machine in gear, and there is no oil
    /// pressure in one that stands.
    pub engine: IndexMap<String, EngineMust>,
}

/// What the engine has to be doing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum EngineMust {
    /// It stands.
    Stand,
    /// It runs.
    Run,
}

/// The closed set of elements (engine, §1).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum ElementType {
    /// `ohms`
    Resistor,
    /// `volts`, `watts`, `cold` (cold ohms over hot ohms)
    Filament,
    /// Shockley with series ohms: `saturation` A, `emission`, `series` ohm; anode is `from`
    Diode,
    /// `ohms` when closed; see [`Element::closed`], [`Element::coil`], [`Element::blows`]
    Contact,
    /// `volts` behind `ohms`; plus is `from`; `charge-ohms` is what current that flows in meets
    Source,
    /// `volts`, `amps` running, `stall` ohm
    Motor,
    /// chopped load or contact: `hertz`, `duty`, and either `volts` and `amps` (closed ohms = duty × volts / amps) or `ohms`;
    /// works above `works-volts` or `works-amps`, below it the contact stays closed
    Interrupter,
    /// `ohms`, `pull-in` V, `drop-out` V; see [`Element::helper`], `turns` of which (over its own) a helper has
    Coil,
    /// `low` V, `high` V behind `ohms`, `per-turn` pulses; alive while the engine turns, else it rests low; without `high`
    /// it lets go in between
    PulseSource,
    /// `ohms`, `lower` V, `upper` V
    PulseInput,
    /// `farads` (AC only)
    Capacitor,
    /// mutual inductance (AC only)
    Mutual,
}

/// An element of a kind.
#[derive(Clone, Debug, PartialEq)]
pub struct Element {
    /// Its type.
    pub what: ElementType,
    /// Pin or inner node.
    pub from: String,
    /// Pin or inner node.
    pub to: String,
    /// Parameters by name, see [`ElementType`]; in base units.
    pub params: IndexMap<String, Param>,
    /// Standard deviation of ln(main value).
    pub spread: f64,
    /// Contact: closed in these settings of the part's control.
    pub closed: Vec<String>,
    /// Contact: moved by this coil; `true` closed when pulled in (make), `false` closed when at rest (break).
    pub coil: Option<(String, bool)>,
    /// Coil: another winding on its core, an element of the kind with `ohms`, whose ampere turns add to its own.
    pub helper: Option<String>,
    /// Contact: a fuse of so many amps.
    pub blows: Option<Param>,
    /// How long it lasts, if not as long as a blade fuse: a curve of `rules/fuses.yaml`.
    pub lasts: Option<String>,
}

/// A parameter of an element.
#[derive(Clone, Debug, PartialEq)]
pub enum Param {
    /// A figure.
    Value(f64),
    /// The value of this rating of the part.
    Rating(String),
    /// `times` × rating ^ `power`, written `1.054 * volts`, `0.25 / capacity`, `0.1285 / amps^1.23`.
    Law {
        /// The rating.
        rating: String,
        /// Factor, in base units.
        times: f64,
        /// Exponent.
        power: f64,
    },
    /// By setting of the part's control.
    BySetting(IndexMap<String, f64>),
}

impl Param {
    /// The figure, given the part's ratings by name in base units; `None` for a parameter that depends on a
    /// control, or for a rating that is not there.
    pub fn value(&self, rating: impl Fn(&str) -> Option<f64>) -> Option<f64> {
        match self {
            Param::Value(value) => Some(*value),
            Param::Rating(name) => rating(name),
            Param::Law { rating: name, times, power } => Some(times * libm::pow(rating(name)?, *power)),
            Param::BySetting(_) => None,
        }
    }
}

/// A showing of a kind.
#[derive(Clone, Debug, PartialEq)]
pub struct Showing {
    /// What is measured.
    pub by: Measure,
    /// Words from the lowest level up; one more than thresholds.
    pub words: Vec<String>,
    /// Thresholds between them.
    pub at: Vec<f64>,
    /// Standard deviation of ln(threshold), one each.
    pub spread: Vec<f64>,
    /// The word of the healthy working part (`lit`, `sounds`), for "does not work".
    pub works: Option<String>,
    /// Is it a needle: can it be asked whether it moves?
    pub needle: bool,
}

/// What a showing is judged by.
#[derive(Clone, Debug, PartialEq)]
pub enum Measure {
    /// |volts| over the element, over its rated volts. For an interrupter: volts in its closed phase; one that
    /// does not chop (below what it works at) shows the lowest word.
    VoltsRatio {
        /// element
        of: String,
    },
    /// |volts|, |amps| or watts of the element, over what it is rated for.
    Level {
        /// volts, amps or watts
        what: LevelOf,
        /// element
        of: String,
        /// 1 where nothing is said
        rated: Option<Param>,
    },
    /// A needle that stands at `zero` and `full` of volts or amps.
    Needle {
        /// what swings it
        what: NeedleOf,
        /// element
        of: String,
        /// at the bottom of the scale; may be below 0
        zero: Param,
        /// at full scale
        full: Param,
    },
    /// Flashes a minute of an interrupter. Words are [none, steady, then by rate: slow, normal, fast].
    Flashes {
        /// the interrupter
        of: String,
        /// amps at which a bimetal keeps its own rate: it nears standing still towards the amps that it works at
        rated: Option<Param>,
        /// with less than so many amps it flashes `fast` times as fast
        fast_below: Option<Param>,
        /// see `fast_below`
        fast: f64,
    },
    /// Deflection of a two-coil gauge: |I1| / (|I1| + |I2|) scaled so that `zero` is 0 and `full` is 1; rests at 0 below `needs` amps.
    AmpsShare {
        /// the coil that swings the needle up, the other one
        of: [String; 2],
        /// share at the bottom of the scale
        zero: f64,
        /// share at full scale
        full: f64,
        /// amps in both coils together below which the needle rests
        needs: f64,
    },
    /// Deflection of a counting gauge: pulses a second over those at full scale, times (supply / 13.5 V)^`supply_exponent`.
    Pulses {
        /// the pulse input
        of: String,
        /// pins of its supply
        supply: [String; 2],
        /// least supply volts
        needs: f64,
        /// turns a minute at full scale
        full: Param,
        /// pulses a turn that it expects
        per_turn: Param,
        /// 0 for a regulated gauge
        supply_exponent: f64,
    },
    /// Position of the contact: words are [open, closed].
    Contact {
        /// contact
        of: String,
    },
    /// Whether a coil has pulled in, be there a contact or not: words are [off, on].
    Pulled {
        /// coil
        of: String,
    },
    /// Whether a fuse is whole: words are [blown, whole].
    Fuse {
        /// contact
        of: String,
    },
}

/// What [`Measure::Level`] takes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LevelOf {
    /// Volts over the element.
    Volts,
    /// Amps through it.
    Amps,
    /// Both together.
    Watts,
}

/// What swings the needle of [`Measure::Needle`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NeedleOf {
    /// Mean volts.
    Volts,
    /// Mean amps, in at `from`.
    Amps,
    /// The heat of its amps: their root mean square.
    Heat,
}

/// Something that can be wrong with a part.
#[derive(Clone, Debug, PartialEq)]
pub struct Mode {
    /// What it does to the elements, by name. [`ALL_CONTACTS`] in an element's place stands for every contact
    /// made from the switch's table (the kind's or the part's own).
    pub does: Vec<(String, Action)>,
    /// Its argument, if it has one.
    pub argument: Option<Argument>,
    /// An argument that is always this word: `wrong-type(led)`.
    pub word: Option<String>,
    /// Prior weight; 1 is an ordinary part's ordinary failure.
    pub weight: f64,
    /// The repair, a key of [`Kind::repairs`].
    pub repair: String,
    /// The trade's sentence, `{part}` and `{value}` filled in.
    pub text: String,
    /// Where it comes from.
    pub source: Option<String>,
}

/// What a mode does to one element; `arg` stands for the mode's argument.
#[derive(Clone, Debug, PartialEq)]
pub enum Action {
    /// The element is absent (a contact never closes).
    Open,
    /// A contact always closed.
    Close,
    /// `arg` ohms in series.
    Series,
    /// `arg` ohms across it.
    Shunt,
    /// `arg` ohms across two pins, named in the element's place as `pin/pin`.
    Bridge,
    /// The parameter times `arg`.
    Scale(String),
    /// The parameter becomes `arg`.
    Set(String),
    /// The parameter becomes this figure.
    Fix(String, f64),
    /// From and to exchanged.
    Reverse,
    /// Replaced by a diode with series ohms (an LED in a filament's socket).
    Led,
}

/// A mode's argument.
#[derive(Clone, Debug, PartialEq)]
pub struct Argument {
    /// `ohms`
    pub name: String,
    /// Its unit.
    pub unit: Unit,
    /// Used where none is given.
    pub default: f64,
    /// Severity range (log-uniform inside); equal ends: one severity.
    pub from: f64,
    /// Upper end.
    pub to: f64,
}

/// A repair class.
#[derive(Clone, Debug, PartialEq)]
pub struct Repair {
    /// What to do, `{part}` filled in.
    pub text: String,
    /// What has to be at hand, `{part}` filled in; where a part is replaced, the part itself if nothing is said.
    pub needs: Option<String>,
    /// Minutes with the place open.
    pub minutes: f64,
    /// If left: none, annoyance, stranded, fire.
    pub harm: String,
    /// Said with the repair.
    pub caution: Option<String>,
    /// How to prove it.
    pub proof: Option<String>,
}
