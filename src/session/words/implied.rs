//! What must be so without being said.

use super::lexicon::Lexicon;
use super::table::{Expected, ShowingWords};
use crate::circuit::test::Settings;

/// "It works when the lights are off": what is cured at rest was wrong with the control in another setting.
pub(super) fn not_at_rest(
    lexicon: &Lexicon<'_>,
    set: &mut Settings,
    change: Option<&(String, [String; 2])>,
    control: &str,
    cure: &str,
) {
    let known = set.iter().any(|(c, _)| c == control) || change.is_some_and(|(c, _)| c == control);
    let at_rest = lexicon.controls.get(control).and_then(|info| info.settings.first()).is_some_and(|rest| rest == cure);
    let on = super::operate::setting(lexicon, control, "on");
    if at_rest && !known && on != cure {
        set.push((control.to_string(), on));
    }
}

/// Takes the control that moves the needle out of the settings.
pub(super) fn changed(lexicon: &Lexicon<'_>, set: &mut Settings) -> Option<(String, [String; 2])> {
    let state = |control: &str| lexicon.is_key(control) || !lexicon.netlist.parts.contains_key(control);
    let at = set.iter().rposition(|(control, _)| !state(control)).or_else(|| set.len().checked_sub(1))?;
    let (control, to) = set.remove(at);
    let settings = &lexicon.controls.get(&control)?.settings;
    let rest = settings.first()?.clone();
    let from = if to == rest { settings.get(1)?.clone() } else { rest };
    Some((control, [from, to]))
}

/// What must be so without being said.
pub(super) fn implied(
    lexicon: &Lexicon<'_>,
    (part, feed): (&str, Option<&str>),
    showing: &ShowingWords,
    set: &Settings,
    change: Option<&(String, [String; 2])>,
) -> Settings {
    let mut out: Settings = Vec::new();
    let said = |control: &str| set.iter().any(|(c, _)| c == control) || change.is_some_and(|(c, _)| c == control);
    let add = |out: &mut Settings, control: String, setting: String| {
        let known = said(&control) || out.iter().any(|(c, _)| *c == control);
        let rest = lexicon.controls.get(&control).and_then(|info| info.settings.first()) == Some(&setting);
        if !known && !rest && lexicon.controls.contains_key(&control) {
            out.push((control, setting));
        }
    };
    let working = showing.state == Expected::Working || showing.needle;
    let on_its_way = lexicon.paths.controls(part, feed);
    for control in lexicon.controls.keys().filter(|control| lexicon.is_key(control)) {
        let needed = on_its_way.iter().find(|(c, _)| c == control).map(|(_, setting)| setting.clone());
        let usual = super::operate::setting(lexicon, control, "on");
        let setting = match needed {
            Some(setting) if working && !lexicon.controls[control].settings.contains(&usual) => setting,
            Some(setting) if working && lexicon.controls[control].held.contains(&setting) => setting,
            _ => usual,
        };
        add(&mut out, control.clone(), setting);
    }
    let at_rest = |control: &str, setting: &String| {
        lexicon.controls.get(control).and_then(|info| info.settings.first()) == Some(setting)
    };
    let mut others = on_its_way.iter().filter(|(control, _)| !lexicon.is_key(control)).peekable();
    if showing.state == Expected::Rest && others.peek().is_some() && others.all(|(c, s)| at_rest(c, s)) {
        // "the oil light stays on": at rest it has to be on, so it is the other state that is meant
        for (control, setting) in lexicon.paths.opening(part, feed) {
            if !lexicon.is_key(&control) {
                add(&mut out, control, setting);
            }
        }
    }
    if working {
        for (control, setting) in on_its_way {
            add(&mut out, control, setting);
        }
        let all: Settings = set.iter().chain(&out).cloned().collect();
        if let Some((control, setting)) = lexicon.paths.either(part, feed, &all) {
            add(&mut out, control, setting);
        }
    }
    if (working || showing.state == Expected::Rest)
        && let Some(kind) = lexicon.netlist.parts.get(part).and_then(|part| lexicon.kind(part))
    {
        for (control, setting) in lexicon.table.needs.get(&kind.name).into_iter().flatten() {
            add(&mut out, control.clone(), setting.clone());
        }
    }
    out
}
