//! Reads `heat.yaml`.

use super::fields::{Fields, Log};
use super::limits;
use crate::catalogue::heat::HeatRules;
use crate::text::quantity::Unit;
use crate::text::yaml::Node;

/// Figures that are asked for.
const LIMITS: [(&str, Unit); 17] = [
    ("warm", Unit::One),
    ("hot", Unit::One),
    ("smokes", Unit::One),
    ("spread", Unit::One),
    ("crimp", Unit::One),
    ("solder", Unit::One),
    ("ring", Unit::One),
    ("clamp", Unit::One),
    ("crimp-sleeve", Unit::One),
    ("twist", Unit::One),
    ("mated", Unit::One),
    ("seat", Unit::One),
    ("contact", Unit::One),
    ("spot", Unit::One),
    ("held", Unit::Second),
    ("brief", Unit::Second),
    ("settles", Unit::Second),
];

/// Lays the file over the rules.
pub(super) fn read(root: &Node, rules: &mut HeatRules, log: &mut Log) -> Option<()> {
    let f = Fields::of(root, "heat", &["limits"], log)?;
    limits::limits(&f, &LIMITS, &mut rules.limits, log);
    let rises = rules.limit("warm") < rules.limit("hot") && rules.limit("hot") < rules.limit("smokes");
    if !rises {
        log.helped(root.span, "warm, hot and smokes must rise", "warm: 12, hot: 38, smokes: 150");
    }
    Some(())
}
