//! Layer 4: what the trade knows, as data. Rust holds no list of parts.
//!
//! Everything here is read from `rules/` (compiled in; a `rules/` folder beside the wiring file
//! overrides or adds file by file). This layer knows how data is shaped and checked, not what it says.

pub mod draw;
pub mod extend;
pub mod heat;
pub mod json;
pub mod kind;
pub mod load;
pub mod powerup;
pub mod review;
pub mod tables;

pub use draw::DrawRules;
pub use extend::ExtendRules;
pub use heat::HeatRules;
pub use kind::{Action, Argument, Control, Element, ElementType, Kind, Mode, Param, Rating, Repair, Showing};
pub use powerup::PowerRules;
pub use review::ReviewRules;
pub use tables::{
    After, Aftermath, Circuit, Colour, Columns, Danger, FuseTable, JointData, LinkMode, LoomData, Minutes, Pattern,
    Procedure, Weights, WireData,
};

use indexmap::IndexMap;

/// All rules in force.
#[derive(Clone, Debug, Default)]
pub struct Catalogue {
    /// Part kinds by name.
    pub kinds: IndexMap<String, Kind>,
    /// Joints by name: crimp, solder, ring, clamp, crimp-sleeve, twist, mated, seat.
    pub joints: IndexMap<String, JointData>,
    /// Wire: resistivity, default size, modes of a conductor.
    pub wire: WireData,
    /// Colours and their codes.
    pub colours: Vec<Colour>,
    /// Prior weights and their factors.
    pub weights: Weights,
    /// Minutes for every kind of doing.
    pub minutes: Minutes,
    /// Fault patterns in the trade's terms.
    pub patterns: IndexMap<String, Pattern>,
    /// How to use each instrument.
    pub procedures: IndexMap<String, Procedure>,
    /// What is never proposed, and why.
    pub dangers: Vec<Danger>,
    /// How long fuses last.
    pub fuses: FuseTable,
    /// What helps after a finding.
    pub aftermath: Aftermath,
    /// Circuits in plain words.
    pub circuits: IndexMap<String, Circuit>,
    /// Words of spreadsheets.
    pub columns: Columns,
    /// What a wiring is held against, and the words of what is found.
    pub review: ReviewRules,
    /// What is said and minded while power is brought on.
    pub powerup: PowerRules,
    /// How a drawing looks.
    pub draw: DrawRules,
    /// What is planned with when wires are made longer.
    pub extend: ExtendRules,
    /// How warm wires and joints get.
    pub heat: HeatRules,
}

impl Catalogue {
    /// The kind of this name or nickname, without regard to case.
    pub fn kind(&self, name: &str) -> Option<&Kind> {
        // Written as the rules write it, mostly.
        if let Some(kind) = self.kinds.values().find(|k| k.name == name) {
            return Some(kind);
        }
        let lower = name.to_lowercase();
        self.kinds
            .values()
            .find(|k| k.name.to_lowercase() == lower)
            .or_else(|| self.kinds.values().find(|k| k.also.iter().any(|a| a.to_lowercase() == lower)))
    }
}
