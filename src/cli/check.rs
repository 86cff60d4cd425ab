//! `ohmward check`: is the wiring file sound, and what in it should be seen to?

use super::error::{Failure, problem_json};
use super::exit::Exit;
use super::{Context, load};
use ohmward::circuit::lower::lower;
use ohmward::wiring;
use serde_json::{Map, Value, json};

/// Check the wiring file: every problem at once, each with its line and a way out
///
/// With --json it also lists sites (what can fail), points (where a probe can go) and controls with their
/// settings, the first at rest.
///
/// Example: ohmward check --wiring my-cart/wiring.yaml
#[derive(clap::Args)]
pub struct Args {}

/// Runs the command.
pub fn run(_args: &Args, context: &mut Context) -> Result<Exit, Failure> {
    let loaded = match load::load(&context.wiring) {
        Ok(loaded) => loaded,
        Err(Failure::Problems(list)) if context.json => {
            for (source, problem) in &list {
                context.out.say(problem.render(source));
            }
            let problems: Vec<Value> = list.iter().map(|(source, problem)| problem_json(source, problem)).collect();
            let empty: [Value; 0] = [];
            context.out.json(&json!({
                "problems": problems, "findings": empty, "sites": empty, "points": empty, "controls": {},
            }))?;
            return Ok(Exit::Unusable);
        }
        Err(other) => return Err(other),
    };
    let schematic = lower(&loaded.netlist, &loaded.catalogue);
    if context.json {
        let findings: Vec<Value> = loaded
            .warnings
            .iter()
            .map(|warning| {
                json!({
                    "severity": "marginal",
                    "where": loaded.source.name,
                    "line": warning.span.map(|span| loaded.source.line(span)),
                    "text": warning.text,
                    "cure": warning.help,
                })
            })
            .collect();
        let sites: Vec<Value> = wiring::sites(&loaded.netlist, &loaded.source)
            .into_iter()
            .map(|site| json!({"site": site.site, "what": site.what, "line": site.line}))
            .collect();
        let points: Vec<Value> = wiring::points(&loaded.netlist)
            .into_iter()
            .map(|point| json!({"point": point.name, "probeable": point.probeable, "place": point.place}))
            .collect();
        let controls: Map<String, Value> =
            schematic.controls.iter().map(|(name, control)| (name.clone(), json!(control.settings))).collect();
        let problems: [Value; 0] = [];
        context.out.json(&json!({
            "problems": problems, "findings": findings, "sites": sites, "points": points, "controls": controls,
        }))?;
        return Ok(Exit::Done);
    }
    for warning in &loaded.warnings {
        context.out.line(format!("marginal: {}", warning.render(&loaded.source).trim_end()))?;
    }
    let netlist = &loaded.netlist;
    let paint = context.out.paint;
    context.out.line(format!(
        "{}: {} parts, {} wires, {} {}, {} ground points; {} unknown volts. {}",
        paint.head(&netlist.title),
        netlist.parts.len(),
        netlist.wires.len(),
        netlist.plugs.len(),
        if netlist.plugs.len() == 1 { "plug" } else { "plugs" },
        netlist.grounds.len(),
        schematic.nodes.len(),
        match loaded.warnings.len() {
            0 => "Nothing to complain of.".to_string(),
            1 => "One thing to see to.".to_string(),
            n => format!("{n} things to see to."),
        }
    ))?;
    Ok(Exit::Done)
}
