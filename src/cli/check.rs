//! `ohmward check`: is the wiring file sound, and what in it should be seen to?

use super::error::{self, Failure, problem_json};
use super::exit::Exit;
use super::load::Loaded;
use super::paint::Paint;
use super::progress::shown;
use super::{Context, load};
use ohmward::diagnosis::machine::Machine;
use ohmward::review::{Finding, Severity, review, worst};
use ohmward::text::span::Source;
use ohmward::wiring;
use serde_json::{Map, Value, json};

/// Check the wiring: every problem of the file at once; then what should be seen to before the loom is closed
///
/// Findings are computed of this wiring in many states: wire, fuse and load against each other, volts lost, shared
/// grounds, sneak paths, interlocks, live ends, colours, what is not proved. The worst come first: hurts, fails,
/// marginal. With --json it also lists sites (what can fail), points (where a probe can go) and controls with their
/// settings, the first at rest. Exit code 1 if something hurts or fails.
#[derive(clap::Args)]
pub struct Args {}

/// Runs the command.
pub fn run(_args: &Args, context: &mut Context) -> Result<Exit, Failure> {
    let loaded = match load::load(&context.wiring) {
        Ok(loaded) => loaded,
        Err(Failure::Problems(list)) if context.json => {
            context.out.say(error::told(&list));
            let problems: Vec<Value> = list.iter().map(|(source, problem)| problem_json(source, problem)).collect();
            let empty: [Value; 0] = [];
            context.out.json(&json!({
                "problems": problems, "findings": empty, "sites": empty, "points": empty, "controls": {},
            }))?;
            return Ok(Exit::Unusable);
        }
        Err(other) => return Err(other),
    };
    let Loaded { source, catalogue, netlist, warnings } = loaded;
    let mut machine = Machine::new(netlist, catalogue);
    let pace = machine.pace.clone();
    let found = shown(&pace, || review(&mut machine));
    let exit = match worst(&found) {
        Some(Severity::Hurts | Severity::Fails) => Exit::NotMet,
        Some(Severity::Marginal) | None => Exit::Done,
    };
    let netlist = &machine.netlist;
    if context.json {
        let mut findings: Vec<Value> = warnings
            .iter()
            .map(|warning| {
                json!({
                    "severity": "marginal",
                    "where": source.name,
                    "line": warning.span.map(|span| source.line(span)),
                    "text": warning.text,
                    "cure": warning.help,
                })
            })
            .collect();
        findings.extend(found.iter().map(|finding| finding_json(&source, finding)));
        let sites: Vec<Value> = wiring::sites(netlist, &source)
            .into_iter()
            .map(|site| json!({"site": site.site, "what": site.what, "line": site.line}))
            .collect();
        let points: Vec<Value> = wiring::points(netlist)
            .into_iter()
            .map(|point| json!({"point": point.name, "probeable": point.probeable, "place": point.place}))
            .collect();
        let controls = &machine.sim.schematic().controls;
        let controls: Map<String, Value> =
            controls.iter().map(|(name, control)| (name.clone(), json!(control.settings))).collect();
        let problems: [Value; 0] = [];
        context.out.json(&json!({
            "problems": problems, "findings": findings, "sites": sites, "points": points, "controls": controls,
        }))?;
        return Ok(exit);
    }
    for warning in &warnings {
        context.out.page(format!("marginal: {}", warning.render(&source).trim_end()))?;
    }
    let paint = context.out.paint;
    context.out.page(format!(
        "{}: {} parts, {} wires, {} {}, {} ground points; {} unknown volts. {}",
        paint.head(&netlist.title),
        netlist.parts.len(),
        netlist.wires.len(),
        netlist.plugs.len(),
        if netlist.plugs.len() == 1 { "plug" } else { "plugs" },
        netlist.grounds.len(),
        machine.sim.schematic().nodes.len(),
        match found.len() + warnings.len() {
            0 => "Nothing to complain of.".to_string(),
            1 => "One thing to see to.".to_string(),
            n => format!("{n} things to see to."),
        }
    ))?;
    for severity in [Severity::Hurts, Severity::Fails, Severity::Marginal] {
        let these: Vec<&Finding> = found.iter().filter(|finding| finding.severity == severity).collect();
        if these.is_empty() {
            continue;
        }
        context.out.line(String::new())?;
        context.out.page(match severity {
            Severity::Hurts => paint.caution("HURTS: see to this before power comes on"),
            Severity::Fails => paint.fault("FAILS: this does not do what it is there for"),
            Severity::Marginal => paint.head("MARGINAL: it works, with less to spare than it should"),
        })?;
        for finding in these {
            show(context, paint, &source, finding)?;
        }
    }
    Ok(exit)
}

/// Three lines: what, where, cure.
fn show(context: &mut Context, paint: Paint, source: &Source, finding: &Finding) -> Result<(), Failure> {
    context.out.page(format!("- {}", upper(&finding.text)))?;
    let line = finding.span.map(|span| format!("line {}", source.line(span)));
    let place = [Some(finding.site.clone()), finding.place.clone(), line].into_iter().flatten();
    let place = place.filter(|word| !word.is_empty()).collect::<Vec<_>>().join(", ");
    // What is told of the whole file has no place.
    if !place.is_empty() {
        context.out.page(format!("    at    {}", paint.place(&place)))?;
    }
    context.out.page(format!("    cure  {}", finding.cure))
}

/// A sentence begins with a capital, but for a name that has a dash, a digit or a dot in it.
fn upper(text: &str) -> String {
    let word = text.split([' ', ',', ':']).next().unwrap_or("");
    let name = word.contains(['-', '.', '_']) || word.contains(|c: char| c.is_ascii_digit());
    let mut chars = text.chars();
    match chars.next().filter(|_| !name) {
        Some(first) => first.to_uppercase().chain(chars).collect(),
        None => text.to_string(),
    }
}

fn finding_json(source: &Source, finding: &Finding) -> Value {
    json!({
        "severity": finding.severity.word(),
        "where": finding.site,
        "place": finding.place,
        "line": finding.span.map(|span| source.line(span)),
        "text": finding.text,
        "cure": finding.cure,
        "sort": finding.sort,
    })
}
