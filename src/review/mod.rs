//! What in a wiring that reads without a problem should be seen to before the loom is closed.
//!
//! [`review`] looks at the sound machine in many states ([`scene`]), and each sort of finding is a file of its own:
//! a pure function of wiring, rules and solved states. Words and limits are `rules/review.yaml`'s; every figure in a
//! finding was computed of this wiring.

pub mod carried;
mod drop;
mod ends;
mod engine;
mod fuses;
mod grounds;
mod heat;
mod interlock;
mod plugs;
mod proof;
mod pullup;
pub(crate) mod reach;
mod returns;
pub(crate) mod scene;
mod sneak;
mod states;
mod tell;
mod unfused;
pub(crate) mod walk;
pub(crate) mod ways;
mod works;

use crate::diagnosis::machine::Machine;
use crate::pace::Work;
use crate::text::span::Span;
use scene::Scene;
use tell::At;

/// How bad it is, the worst first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Severity {
    /// It can hurt or burn somebody.
    Hurts,
    /// Something does not do what it is there for.
    Fails,
    /// It works, with less to spare than it should.
    Marginal,
}

impl Severity {
    /// As scripts and people read it.
    pub fn word(self) -> &'static str {
        match self {
            Severity::Hurts => "hurts",
            Severity::Fails => "fails",
            Severity::Marginal => "marginal",
        }
    }
}

/// Something that should be seen to.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// How bad it is.
    pub severity: Severity,
    /// What sort of finding: an entry of `findings` in `rules/review.yaml`.
    pub sort: &'static str,
    /// The site that it is told at: a wire, plug, part, ground point.
    pub site: String,
    /// Its place, if known.
    pub place: Option<String>,
    /// Where it stands in the file.
    pub span: Option<Span>,
    /// What, and what comes of it.
    pub text: String,
    /// The way out.
    pub cure: String,
}

/// All that is found, the worst first; within a severity in the order in which one would see to it.
///
/// The machine is asked for states, which it keeps.
pub fn review(machine: &mut Machine) -> Vec<Finding> {
    let scene = Scene::new(machine);
    let sorts: [fn(&Scene) -> Vec<Finding>; 16] = [
        works::never,
        pullup::find,
        grounds::find,
        fuses::blows,
        heat::find,
        unfused::find,
        interlock::find,
        sneak::find,
        ends::live,
        returns::find,
        drop::find,
        fuses::full,
        plugs::find,
        |scene| engine::lift(scene).into_iter().collect(),
        proof::unproved,
        not_all,
    ];
    let pace = scene.machine.pace.clone();
    pace.begin(Work::Findings, sorts.len());
    let mut out: Vec<Finding> = Vec::new();
    for find in sorts {
        out.extend(find(&scene));
        pace.step();
    }
    out.sort_by_key(|finding| finding.severity);
    out
}

/// Settings that were not looked at, the wiring being too large for all.
fn not_all(scene: &Scene) -> Vec<Finding> {
    if scene.left == 0 {
        return Vec::new();
    }
    let values = [("count", scene.left.to_string()), ("seen", scene.seen.len().to_string())];
    vec![scene.finding(Severity::Marginal, "not-all", At::default(), &values)]
}

/// The worst severity among these.
pub fn worst(findings: &[Finding]) -> Option<Severity> {
    findings.iter().map(|finding| finding.severity).min()
}
