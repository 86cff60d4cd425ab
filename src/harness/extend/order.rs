//! The order of work: the steps of the rules that this plan needs, with its own names and figures.

use super::{Ask, Plan};
use crate::catalogue::Catalogue;
use crate::netlist::Joint;

/// A step.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// What to do.
    pub text: String,
    /// What to be careful of.
    pub caution: Option<String>,
}

/// The steps of a plan.
pub fn order(plan: &Plan, ask: &Ask, rules: &Catalogue) -> Vec<Step> {
    if plan.rows.is_empty() {
        return Vec::new();
    }
    let groups = |in_plug: bool| -> Vec<String> {
        let mut names: Vec<String> = Vec::new();
        for row in plan.rows.iter().filter(|row| row.strand.in_plug == in_plug) {
            if !names.contains(&row.strand.group) {
                names.push(row.strand.group.clone());
            }
        }
        names
    };
    let (plugs, parts) = (groups(true), groups(false));
    let labels: Vec<String> = plan.rows.iter().filter(|row| row.label).map(|row| row.strand.name()).collect();
    let length = |name: &str| millimetres(rules.extend.length(name));
    let values: [(&str, String); 11] = [
        ("plugs", plugs.join(", ")),
        ("parts", parts.join(", ")),
        ("labels", labels.join(", ")),
        ("cuts", if plan.cuts.len() == 1 { "one length".into() } else { format!("{} lengths", plan.cuts.len()) }),
        ("count", plan.rows.len().to_string()),
        ("strip-terminal", length("strip-terminal")),
        ("strip-sleeve", length("strip-sleeve")),
        ("again", length("again")),
        ("stagger", length("stagger")),
        (
            "seal-first",
            if plugs.is_empty() { String::new() } else { "(seal on first, where the plug has seals) the ".into() },
        ),
        ("cut-at", if plugs.is_empty() { "behind its terminal" } else { "close behind the plug" }.into()),
    ];
    let wanted = |with: &str| match with {
        "plug" => !plugs.is_empty(),
        "wire" => !parts.is_empty(),
        "crimp" => ask.joint != Joint::Solder,
        "solder" => ask.joint == Joint::Solder,
        "labels" => !labels.is_empty(),
        "buy" => plan.buy.any(),
        _ => false,
    };
    let fill = |text: &String| {
        values.iter().fold(text.clone(), |text, (key, value)| text.replace(&format!("{{{key}}}"), value))
    };
    let steps = rules.extend.order.iter().filter(|step| step.with.as_deref().is_none_or(wanted));
    steps.map(|step| Step { text: fill(&step.text), caution: step.caution.clone() }).collect()
}

/// `8 mm`.
fn millimetres(metres: f64) -> String {
    format!("{:.0} mm", 1000.0 * metres)
}
