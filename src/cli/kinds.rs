//! `ohmward kinds`: the catalogue of part kinds.

use super::complete::offer;
use super::error::Failure;
use super::exit::Exit;
use super::{Context, load};
use clap_complete::engine::ArgValueCompleter;
use ohmward::catalogue::json;

/// List the kinds of parts that a wiring file can name
///
/// Kinds are data: a file in a `rules/kinds` folder beside the wiring file replaces one or adds one.
#[derive(clap::Args)]
pub struct Args {
    /// One kind, in full
    #[arg(add = ArgValueCompleter::new(offer::kinds))]
    kind: Option<String>,
}

/// Runs the command.
pub fn run(args: &Args, context: &mut Context) -> Result<Exit, Failure> {
    let catalogue = load::rules(&context.wiring)?;
    let all = json::kinds(&catalogue);
    let wanted = match &args.kind {
        None => None,
        Some(name) => Some(catalogue.kind(name).ok_or_else(|| {
            let names = catalogue.kinds.values().flat_map(|k| std::iter::once(&k.name).chain(&k.also));
            let near = ohmward::text::words::nearest(name, names.map(String::as_str));
            Failure::Plain {
                text: format!("no kind is called \"{name}\""),
                hint: near
                    .map_or_else(|| Some("list them: ohmward kinds".into()), |near| Some(format!("nearest: {near}"))),
            }
        })?),
    };
    if context.json {
        let list: Vec<_> = all
            .as_array()
            .into_iter()
            .flatten()
            .filter(|kind| wanted.is_none_or(|wanted| kind["kind"] == wanted.name.as_str()))
            .cloned()
            .collect();
        context.out.json(&serde_json::Value::Array(list))?;
        return Ok(Exit::Done);
    }
    let paint = context.out.paint;
    let Some(kind) = wanted else {
        for kind in catalogue.kinds.values() {
            context.out.page(format!("{}  {}", paint.head(&format!("{:<24}", kind.name)), kind.about))?;
        }
        return Ok(Exit::Done);
    };
    context.out.page(format!("{}: {}", paint.head(&kind.name), kind.about))?;
    if !kind.also.is_empty() {
        context.out.page(format!("  also called   {}", kind.also.join(", ")))?;
    }
    for (pin, also) in &kind.pins {
        let also = if also.is_empty() { String::new() } else { format!(" (also {})", also.join(", ")) };
        context.out.page(format!("  pin           {}{also}", paint.place(pin)))?;
    }
    for (name, rating) in &kind.ratings {
        let unit = rating.unit.symbol();
        context.out.page(format!(
            "  rating        {name}, {} if the file says nothing",
            paint.value(&format!("{} {unit}", rating.default))
        ))?;
    }
    if let Some(control) = &kind.control {
        context.out.page(format!("  control       {}", control.settings.join(", ")))?;
    }
    for showing in &kind.showings {
        context.out.page(format!("  seen as       {}", showing.words.join(", ")))?;
    }
    for (mode, what) in &kind.modes {
        context.out.page(format!("  can be        {}: {}", paint.fault(mode), what.text))?;
    }
    for caution in &kind.cautions {
        context.out.page(format!("  CAUTION       {}", paint.caution(caution)))?;
    }
    context.out.page(format!("  source        {}", kind.source))?;
    Ok(Exit::Done)
}
