//! Findings: what and where, how sure, the computed explanation, harm, repair, proof.

use super::chase::Chase;
use super::event::{Report, ReportLine, VerdictReason};
use super::name;
use super::{aftermath, ask};
use crate::catalogue::Repair;
use crate::choice::choose::Choice;
use crate::circuit::fault::site;
use crate::diagnosis::evidence::Entry;
use crate::diagnosis::pattern::{Figures, Scene, pattern as figures_of};
use crate::diagnosis::posterior::Predicted;
use crate::diagnosis::predict::Sight;
use crate::diagnosis::suspect::What;
use crate::netlist::LinkKind;
use crate::review::{Finding, Severity, review};
use indexmap::IndexMap;

/// Less than this is no current to speak of, A.
const QUIET: f64 = 0.05;

/// What was put right before counts as one of the faults if it is that likely with what is found now.
const BESIDES: f64 = 0.8;

/// So many complaints are to be done again as a proof.
const COMPLAINTS: usize = 2;

/// In the final group: members at least this likely beside the leader.
const IN_GROUP: f64 = 0.02;

impl Chase {
    /// What the complaint is about, for patterns.
    pub(super) fn scene(&mut self) -> Scene {
        let Some(symptom) = self.symptoms.first().cloned() else { return Scene::default() };
        let mut active = symptom.set.clone();
        let mut passive = None;
        if let Some((control, [from, to])) = &symptom.change {
            active.retain(|(c, _)| c != control);
            let mut before = active.clone();
            before.push((control.clone(), from.clone()));
            active.push((control.clone(), to.clone()));
            passive = self.state(&before);
        }
        Scene { part: symptom.part, active: self.state(&active), passive }
    }

    /// The likeliest severity point of a suspect.
    pub(super) fn best_point(&self, suspect: usize) -> u32 {
        let p = |point: usize| self.chances.points.get(point).copied().unwrap_or(0.0);
        let (first, end) = self.runs.range[suspect];
        let alone = (first..end).max_by(|&a, &b| p(a).total_cmp(&p(b))).unwrap_or(first);
        self.runs.points_of(suspect).fold(alone, |best, point| if p(point) > p(best) { point } else { best }) as u32
    }

    /// The same for a suspect: one of several faults need not show what was complained of, but what was seen otherwise.
    fn scene_of(&mut self, suspect: usize) -> Scene {
        let point = self.best_point(suspect);
        if self.runs.besides(point).is_empty() {
            return self.scene();
        }
        let mass = |index: usize, point: u32| match self.evidence.predicted(index, point as usize) {
            Some(Predicted::Mass(mass)) => *mass,
            _ => 1.0,
        };
        // Point 0 is "nothing is broken".
        let shows = |index: &usize| mass(*index, 0) < 0.5 && mass(*index, point) > 0.5;
        let entries = &self.evidence.entries;
        let found = (0..entries.len()).rev().filter(shows).find_map(|index| match &entries[index] {
            // (what was complained of before anything was put right is the first fault's)
            Entry { complaint: true, epoch: 0, .. } => None,
            Entry { sight: Sight::Words { part, state, .. }, .. } => Some((part.clone(), *state)),
            _ => None,
        });
        let Some((part, state)) = found else { return Scene::default() };
        Scene { part, active: Some(state), passive: None }
    }

    /// Pattern and figures of a suspect.
    pub(super) fn figures(&mut self, suspect: usize) -> Figures {
        let scene = self.scene_of(suspect);
        let point = self.best_point(suspect);
        figures_of(&self.machine, &self.suspects, &mut self.runs, point, &scene)
    }

    /// Does a suspect's fault come and go, as far as anybody can tell?
    pub(super) fn goes(&self, suspect: usize) -> bool {
        let point = self.best_point(suspect) as usize;
        self.evidence.presence(point).is_some_and(|presence| self.evidence.comes_and_goes || presence.coming > 0.5)
    }

    /// What was wrong besides a class, and was put right before, as sure as anybody can be: suspects with their chances.
    pub(super) fn besides(&self, class: &str) -> Vec<(usize, f64)> {
        let Chase { chances, runs, suspects, .. } = self;
        let mut sums: IndexMap<usize, f64> = IndexMap::new();
        let (mut all, mut tops) = (0.0, IndexMap::<&str, f64>::new());
        for (point, p) in chances.points.iter().enumerate().filter(|(_, p)| **p > 0.0) {
            if suspects.list[runs.points[point].suspect].class != class {
                continue;
            }
            all += p;
            for &fault in runs.besides(point as u32) {
                let suspect = runs.points[fault as usize].suspect;
                *sums.entry(suspect).or_default() += p;
                *tops.entry(suspects.list[suspect].class.as_str()).or_default() += p;
            }
        }
        let sure = |suspect: usize| tops[suspects.list[suspect].class.as_str()] >= BESIDES * all;
        sums.into_iter().filter(|(suspect, _)| sure(*suspect)).collect()
    }

    /// The likeliest suspect of a class.
    pub(super) fn leader_of(&self, class: &str) -> Option<usize> {
        (0..self.suspects.list.len())
            .filter(|&i| self.suspects.list[i].class == class)
            .max_by(|&a, &b| self.chances.suspects[a].total_cmp(&self.chances.suspects[b]))
    }
}

/// For people: what the suspects of a class come down to.
pub fn class_title(chase: &Chase, class: &str) -> String {
    chase.leader_of(class).map_or_else(
        || class.to_string(),
        |leader| name::suspect(&chase.machine, &chase.suspects, &chase.suspects.list[leader]),
    )
}

/// The final group: the class's members, or those that are still likely.
pub fn final_group(chase: &Chase, class: &str, reason: VerdictReason) -> Vec<(String, f64)> {
    let within = |index: usize| match reason {
        VerdictReason::Repair | VerdictReason::NothingVisible => chase.suspects.list[index].class == class,
        _ => !chase.tried(&chase.suspects.list[index].class),
    };
    let besides = chase.besides(class);
    let mut out: Vec<(String, f64)> = Vec::new();
    for (index, suspect) in chase.suspects.list.iter().enumerate().filter(|(i, _)| within(*i)) {
        for member in &suspect.members {
            out.push((name::short(member), chase.chances.suspects[index] * member.share));
        }
    }
    for (index, p) in besides {
        let members = &chase.suspects.list[index].members;
        out.extend(members.iter().map(|member| (name::short(member), p * member.share)));
    }
    out.sort_by(|a, b| b.1.total_cmp(&a.1));
    let top = out.first().map_or(0.0, |f| f.1);
    out.retain(|(_, p)| *p >= IN_GROUP * top && *p > 0.0);
    out.truncate(40);
    out
}

/// Minutes of the repair of a class; infinite if there is none.
pub(super) fn repair_minutes(chase: &Chase, class: &str) -> f64 {
    let repair = chase.leader_of(class).and_then(|leader| repair_of(chase, leader));
    repair.map_or(f64::INFINITY, |(repair, _)| repair.minutes.max(1.0))
}

/// What the catalogue says one should do about a suspect.
fn repair_of(chase: &Chase, suspect: usize) -> Option<(&Repair, String)> {
    repair_called(chase, suspect).map(|(repair, site, _)| (repair, site))
}

/// The same with the repair's name.
fn repair_called(chase: &Chase, suspect: usize) -> Option<(&Repair, String, &str)> {
    let suspect = &chase.suspects.list[suspect];
    let single = suspect.members.first()?.fault.singles.first()?;
    let catalogue = &chase.machine.catalogue;
    let netlist = &chase.machine.netlist;
    match &suspect.what {
        What::Part(part) => {
            let kind = catalogue.kind(&netlist.parts.get(part)?.kind)?;
            let mode = kind.modes.get(&single.mode)?;
            kind.repairs.get(&mode.repair).map(|r| (r, part.clone(), mode.repair.as_str()))
        }
        What::Touching if single.site.contains('.') => {
            let plug = single.site.split('.').next().unwrap_or("").to_string();
            catalogue.wire.repairs.get("repin").map(|r| (r, plug, "repin"))
        }
        What::Touching => catalogue.wire.repairs.get("mend").map(|r| (r, single.site.replace('~', " and "), "mend")),
        What::Coupled => {
            catalogue.wire.repairs.get("reroute").map(|r| (r, single.site.replace('~', " and "), "reroute"))
        }
        What::Crossed => catalogue.wire.repairs.get("repin").map(|r| (r, single.site.clone(), "repin")),
        What::Series(index) => {
            let segment = &chase.suspects.segments[*index];
            let edge = match segment.links.as_slice() {
                [only] => *only,
                // The likeliest joint of the run names what is to be done; the run is opened anyway.
                links => *links.iter().find(|&&l| netlist.graph[l].what == LinkKind::Conductor).or(links.first())?,
            };
            let place =
                if segment.links.len() == 1 { site::canonical_link(netlist, edge) } else { segment.name.clone() };
            match netlist.graph[edge].what {
                LinkKind::Conductor => catalogue.wire.repairs.get("mend").map(|r| (r, place, "mend")),
                joint => {
                    let data = catalogue.joints.get(site::joint_key(joint)?)?;
                    let mode = data.modes.get(&single.mode)?;
                    data.repairs.get(&mode.repair).map(|r| (r, place, mode.repair.as_str()))
                }
            }
        }
        What::NothingBroken | What::NotInFile => None,
    }
}

/// The whole finding about a class.
pub fn report(chase: &mut Chase, class: &str) -> Report {
    let Some(leader) = chase.leader_of(class) else { return Report::default() };
    let p = chase.sureness(class);
    let figures = chase.figures(leader);
    let part = chase.scene_of(leader).part;
    let mut out = Report {
        what: name::suspect(&chase.machine, &chase.suspects, &chase.suspects.list[leader]),
        sure: name::sure(p).into(),
        comes_and_goes: chase.goes(leader),
        pattern: title_of(chase, &figures.pattern),
        why: sentences(chase, leader, &figures, &part),
        readings: lines(chase, leader),
        ..Report::default()
    };
    if let Some((repair, site, called)) = repair_called(chase, leader) {
        let fill = |text: &str| text.replace("{part}", &site).replace("{site}", &site);
        out.repair.push(format!("{} (about {:.0} min)", fill(&repair.text), repair.minutes));
        out.harm.clone_from(&repair.harm);
        out.drive = may_drive(&repair.harm).into();
        out.parts = aftermath::needs(chase, leader, repair, called);
        out.cautions.extend(ask::still_in(&chase.stand));
        out.cautions.extend(repair.caution.as_deref().map(fill));
        out.proof.extend(repair.proof.as_deref().map(fill));
    }
    // (what was said of in one breath of many lamps is not all gone through again)
    for complaint in chase.symptoms.iter().take(COMPLAINTS) {
        out.proof.push(format!("then do again what showed it: {}", symptom_words(complaint)));
    }
    let missed = chase.evidence.presence(chase.best_point(leader) as usize).is_some_and(|presence| presence.missed);
    if out.comes_and_goes && missed {
        out.why.push("it was away at some of the readings: those are the sound machine's".into());
    }
    if out.comes_and_goes {
        out.proof.push(
            "call it cured when it has stayed away for longer than it ever did: over bumps, hot and cold, wiggled"
                .into(),
        );
    }
    let besides = chase.besides(class);
    if let Some((other, _)) = besides.into_iter().max_by(|a, b| a.1.total_cmp(&b.1)) {
        let other = name::suspect(&chase.machine, &chase.suspects, &chase.suspects.list[other]);
        out.why.push(format!("there were two faults, it seems: what you put right before was one as well ({other})"));
    }
    if chase.suspects.list[leader].what == What::NothingBroken {
        out.why.extend(super::sound::why(chase));
        out.why.extend(found(chase));
    }
    out.others = chase
        .classes()
        .into_iter()
        .filter(|(other, p)| other != class && *p > 0.02 && !chase.tried(other) && !chase.is_settled())
        .take(4)
        .map(|(other, p)| format!("{}: {}", name::sure(p), class_title(chase, &other)))
        .collect();
    out.open_points = open_points(chase, leader);
    out
}

/// What a look at the wiring itself finds about the parts complained of.
fn found(chase: &mut Chase) -> Vec<String> {
    let named = |finding: &Finding| {
        let about = |part: &String| {
            let mut words = finding.text.split(|c: char| !(c.is_alphanumeric() || c == '-' || c == '_'));
            finding.site == *part || words.any(|word| word == part)
        };
        chase.symptoms.iter().any(|symptom| about(&symptom.part))
    };
    let all = review(&mut chase.machine);
    let failing = all.iter().filter(|finding| finding.severity != Severity::Marginal && named(finding));
    failing.take(2).map(|finding| format!("{}: {}", finding.text, finding.cure)).collect()
}

/// May it be driven with this left as it is?
fn may_drive(harm: &str) -> &'static str {
    match harm {
        "none" | "annoyance" => "it can be used, with the nuisance; the machine's manual and local rules come first",
        "stranded" => "it may leave you standing: mend it before you rely on it",
        "fire" => "do not run it so: a hot joint or a bare wire can start a fire; battery minus off when you leave it",
        _ => "the machine's manual comes first",
    }
}

/// Where the same slip may sit, and what is unproved.
fn open_points(chase: &Chase, leader: usize) -> Vec<String> {
    let netlist = &chase.machine.netlist;
    let mut out = Vec::new();
    out.extend(aftermath::elsewhere(chase, leader));
    let unproved = netlist.wires.values().filter(|w| w.proof == crate::netlist::Proof::Assumed).count();
    if unproved > 0 {
        out.push(format!("{unproved} wires of the file are still assumed, not proved"));
    }
    let unfitted = netlist.parts.values().filter(|p| !p.fitted).count();
    if unfitted > 0 {
        out.push(format!("{unfitted} parts are not fitted yet and were not tried"));
    }
    out
}

fn title_of(chase: &Chase, pattern: &str) -> String {
    chase.machine.catalogue.patterns.get(pattern).map_or_else(|| pattern.replace('-', " "), |p| p.title.clone())
}

/// Pattern name of a suspect.
pub fn pattern(chase: &mut Chase, suspect: usize) -> String {
    chase.figures(suspect).pattern
}

/// Pattern name of a class's leader.
pub fn class_pattern(chase: &mut Chase, class: &str) -> String {
    chase.leader_of(class).map_or_else(String::new, |leader| pattern(chase, leader))
}

/// The pattern's sentence with this machine's own figures.
fn sentences(chase: &Chase, leader: usize, figures: &Figures, part: &str) -> Vec<String> {
    let Some(pattern) = chase.machine.catalogue.patterns.get(&figures.pattern) else { return Vec::new() };
    let suspect = &chase.suspects.list[leader];
    if part.is_empty() && chase.runs.several() {
        return Vec::new();
    }
    let site = match suspect.what {
        What::Series(index) => name::segment(&chase.machine, &chase.suspects, index),
        _ => suspect.members.first().and_then(|m| m.fault.singles.first()).map_or_else(String::new, |s| s.site.clone()),
    };
    let severity = chase.runs.points[chase.best_point(leader) as usize].severity;
    let open = suspect.members.first().is_some_and(|m| m.fault.singles.iter().any(|s| s.mode == "open"));
    let bad = match severity {
        Some(ohms) => format!("about {}", name::value(ohms, "ohm")),
        None if open => "a break".to_string(),
        None => "it".to_string(),
    };
    let others = if figures.others.is_empty() { "other loads".to_string() } else { figures.others.join(" and ") };
    // With its fuse blown, or on a line that carries next to nothing, no amps speak for themselves.
    let quiet = pattern.quiet.as_ref().filter(|_| figures.amps < QUIET);
    let text = quiet
        .unwrap_or(&pattern.text)
        .replace("{site}", &site)
        .replace("{part}", part)
        .replace("{others}", &others)
        .replace("{value}", &bad)
        .replace("{amps}", &name::value(figures.amps, "A"))
        .replace("{volts}", &name::value(figures.volts, "V"))
        .replace("{healthy}", &name::value(figures.healthy, "V"))
        .replace("{through}", figures.through.as_deref().unwrap_or("another part"))
        .replace("{threshold}", &name::value(figures.threshold.unwrap_or(0.0), "V"))
        .replace("{effect}", "warm the wire or blow its fuse");
    vec![text.split_whitespace().collect::<Vec<_>>().join(" ")]
}

/// Predicted beside met, a line a reading.
fn lines(chase: &mut Chase, leader: usize) -> Vec<ReportLine> {
    let point = chase.best_point(leader);
    let mut out = Vec::new();
    for index in 0..chase.evidence.entries.len() {
        let entry = &chase.evidence.entries[index];
        if entry.complaint {
            continue;
        }
        let (test, reading) = (entry.test.clone(), entry.reading.clone());
        let unit = test.instrument.unit().unwrap_or("");
        let mut say = |point: u32| match chase.evidence.predicted(index, point as usize) {
            Some(Predicted::Number { mean, .. }) => name::value(*mean, unit),
            _ => super::ask::preview(chase, &test, &test.set, point).replace('-', " "),
        };
        // Point 0 is "nothing is broken".
        let (predicted, healthy) = (say(point), say(0));
        let (test, met) = (super::ask::short_test(&test), super::ask::say_reading(&reading, unit));
        out.push(ReportLine { test, predicted, healthy, met });
    }
    out
}

/// The finding in one sentence.
pub fn sentence(report: &Report) -> String {
    if report.what.is_empty() {
        return "no finding".into();
    }
    let pattern = if report.pattern.is_empty() { String::new() } else { format!(" ({})", report.pattern) };
    let goes = if report.comes_and_goes { ", comes and goes" } else { "" };
    format!("{}: {}{pattern}{goes}", report.sure, report.what)
}

/// A symptom in words.
pub fn symptom_words(symptom: &super::event::SymptomInput) -> String {
    let set = super::ask::settings_words(&symptom.set);
    let change = symptom
        .change
        .as_ref()
        .map_or_else(String::new, |(control, [from, to])| format!(" when {control} goes from {from} to {to}"));
    let stirred = symptom.stirred.as_ref();
    let stirred = stirred.map_or_else(String::new, |(how, at)| format!(", changes while you {how} {at}"));
    format!(
        "{} {}{change}{}{stirred}{}",
        symptom.part,
        symptom.showings.join(" or ").replace('-', " "),
        if set.is_empty() { set } else { format!(", {set}") },
        if symptom.comes_and_goes { ", comes and goes" } else { "" }
    )
}

/// Why this test and not another.
pub fn why(chase: &Chase, choice: &Choice) -> Vec<String> {
    if choice.gain <= 0.0 {
        let why = match chase.fixed_any() {
            true => "something was put right and it is not cured: is it as it was, or otherwise now?",
            false => "what comes and goes is looked at first: while it is away no meter finds it",
        };
        return vec![why.into()];
    }
    let mut out = vec![format!(
        "it takes {} from where you stand and should settle {} of what is undecided",
        if choice.minutes < 0.95 { "under a minute".to_string() } else { format!("about {:.0} min", choice.minutes) },
        match choice.gain {
            gain if gain > 0.6 => "most",
            gain if gain > 0.35 => "about half",
            gain if gain > 0.1 => "some",
            _ => "a little",
        }
    )];
    for (class, p) in chase.classes().into_iter().take(4) {
        out.push(format!("{}: {}", name::sure(p), class_title(chase, &class)));
    }
    out
}
