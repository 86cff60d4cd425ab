//! Tables of what people say: complaints here, readings beside.

mod readings;

use super::*;
use crate::catalogue::Catalogue;
use crate::circuit::lower::lower;
use crate::text::span::Source;
use crate::wiring;

#[test]
fn the_built_in_table_reads() {
    let source = Source::new("symptoms.yaml", include_str!("../../../rules/symptoms.yaml"));
    if let Err(problems) = SymptomTable::read(&source) {
        panic!("{}", problems.iter().map(|p| p.render(&source)).collect::<String>());
    }
    let table = SymptomTable::builtin();
    assert!(table.showings.len() > 20 && table.parts.len() > 15 && table.controls.len() > 8);
}

#[test]
fn a_bad_table_is_refused_with_every_problem() {
    let text =
        "showings:\n  dead: {say: [dead], means: [dark], not: alive, source: x}\n  dim: {says: [dim], means: [dim]}\n";
    let problems = SymptomTable::read(&Source::new("t.yaml", text)).unwrap_err();
    let all: Vec<&str> = problems.iter().map(|p| p.text.as_str()).collect();
    assert!(all.iter().any(|t| t.contains("\"says\" is not known")), "{all:?}");
    assert!(all.iter().any(|t| t.contains("no source")), "{all:?}");
    assert!(all.iter().any(|t| t.contains("alive")), "{all:?}");
}

fn settings(settings: &Settings) -> String {
    settings.iter().map(|(control, setting)| format!("{control}={setting}")).collect::<Vec<_>>().join(",")
}

fn short(symptom: &Symptom) -> String {
    let mut out = format!("{} {}", symptom.part, symptom.showings.join("|"));
    if let Some((control, [from, to])) = &symptom.change {
        out += &format!(" as {control} {from}>{to}");
    }
    if !symptom.set.is_empty() {
        out += &format!(" set {}", settings(&symptom.set));
    }
    if !symptom.implied.is_empty() {
        out += &format!(" ({})", settings(&symptom.implied));
    }
    match &symptom.cured_by {
        Some(Cure::Set(set)) => out += &format!(" cured {}", settings(set)),
        Some(Cure::Disturb(how)) => out += &format!(" cured by {how}"),
        Some(Cure::Words(words)) => out += &format!(" cured \"{words}\""),
        None => {}
    }
    if let Some(since) = &symptom.since {
        out += &format!(" since \"{since}\"");
    }
    if symptom.comes_and_goes {
        out += " now and then";
    }
    out
}

fn cart_says(text: &str) -> String {
    says(include_str!("../../../rules/machines/orchard-cart/wiring.yaml"), text)
}

fn says(wiring: &str, text: &str) -> String {
    let source = Source::new("wiring.yaml", wiring);
    let catalogue = Catalogue::builtin();
    let netlist = wiring::read(&source, &catalogue).unwrap().netlist;
    let schematic = lower(&netlist, &catalogue);
    let table = SymptomTable::builtin();
    let got = understand(text, &netlist, &catalogue, &schematic.controls, &table);
    let mut out: Vec<String> = got.symptoms.iter().map(short).collect();
    for question in &got.questions {
        let labels: Vec<&str> = question.options.iter().map(|option| option.label.as_str()).collect();
        let first = question.options.first().and_then(|o| o.symptoms.first()).map(short).unwrap_or_default();
        out.push(format!("? {}: {first}", labels.join(" / ")));
    }
    if !got.lost.is_empty() {
        out.push(format!("lost {:?}", got.lost));
    }
    out.join("; ")
}

const COMPLAINTS: &[(&str, &str)] = &[
    (
        "the rev needle jumps when I press the horn",
        "rev-gauge moves-up|moves-down|kicks as horn-push released>pressed (key=on,engine=idling)",
    ),
    (
        "rev neddle jmps when i pres the hron",
        "rev-gauge moves-up|moves-down|kicks as horn-push released>pressed (key=on,engine=idling)",
    ),
    (
        "when I press the horn the rev needle jumps",
        "rev-gauge moves-up|moves-down|kicks as horn-push released>pressed (key=on,engine=idling)",
    ),
    (
        "tach twitches every time I honk",
        "rev-gauge moves-up|moves-down|kicks as horn-push released>pressed (key=on,engine=idling)",
    ),
    (
        "the gauge kicks when the horn sounds",
        "? rev-gauge / coolant-gauge / all of them: rev-gauge kicks as horn-push released>pressed (key=on,engine=idling)",
    ),
    ("the horn blows its fuse", "F3 blown set horn-push=pressed (key=on)"),
    ("the horn keeps blowing fuses", "F3 blown set horn-push=pressed (key=on)"),
    ("the horn always pops the fuse", "F3 blown set horn-push=pressed (key=on)"),
    ("horn is dead", "horn silent (key=on,horn-push=pressed)"),
    ("dead horn", "horn silent (key=on,horn-push=pressed)"),
    ("no horn", "horn silent (key=on,horn-push=pressed)"),
    ("the hooter doesn't work", "horn silent (key=on,horn-push=pressed)"),
    ("horn does not work", "horn silent (key=on,horn-push=pressed)"),
    ("horn wont stop", "horn sounds (key=on)"),
    (
        "horn is weak and the tach jumps when I press it",
        "horn weak set horn-push=pressed (key=on); rev-gauge moves-up|moves-down|kicks as horn-push released>pressed (key=on,engine=idling)",
    ),
    ("horn only works when I wiggle the bars", "horn silent (key=on,horn-push=pressed) cured by wiggle"),
    (
        "horn works only with the engine off",
        "horn silent set engine=idling (key=on,horn-push=pressed) cured engine=stopped",
    ),
    ("no crank, solenoid silent", "starter still (key=on,start-push=pressed); starter off (key=on,start-push=pressed)"),
    (
        "electrically dead: no crank, solenoid silent",
        "rev-gauge zero (key=on,engine=idling); coolant-gauge zero (key=on,coolant=warm); neutral-lamp dark (key=on); oil-lamp dark (key=on); temp-lamp dark (key=on,coolant=hot); dash-lamp dark (key=on,lights=park); fan still (key=on,fan-switch=on); horn silent (key=on,horn-push=pressed); turn-lamp dark (key=on,turn=left); head-lamp dark (key=on,lights=on); tail-lamp dark (key=on,lights=park); stop-lamp dark (key=on,brake=pressed); lamp-left-front dark (key=on,turn=left); lamp-left-rear dark (key=on,turn=left); starter still (key=on,start-push=pressed); starter off (key=on,start-push=pressed)",
    ),
    ("starter only clicks", "starter on (key=on,start-push=pressed); starter still (key=on,start-push=pressed)"),
    (
        "it just clicks when I hit the start button",
        "? start-relay / starter / all of them: start-relay on set start-push=pressed (key=on)",
    ),
    (
        "the start relay just clicks",
        "start-relay on (key=on,start-push=pressed); starter still (key=on,start-push=pressed)",
    ),
    ("starter rat-tat-tat when I crank", "starter chatters set start-push=pressed (key=on)"),
    ("engine turns over slowly", "starter slow (key=on,start-push=pressed)"),
    ("starter won't turn off", "starter runs (key=on)"),
    (
        "temperature gauge climbs when the headlights are on",
        "coolant-gauge moves-up as lights off>on (key=on,coolant=warm)",
    ),
    ("temp gauge reads high with the lights on", "coolant-gauge high|pegged set lights=on (key=on,coolant=warm)"),
    ("with the headlights on the temp gauge rises", "coolant-gauge moves-up as lights off>on (key=on,coolant=warm)"),
    ("water temp gauge pegs when I turn the key on", "coolant-gauge pegged set key=on (coolant=warm)"),
    ("temp gage reads zero", "coolant-gauge zero (key=on,coolant=warm)"),
    ("coolant gauge drops when I brake", "coolant-gauge moves-down as brake released>pressed (key=on,coolant=warm)"),
    (
        "left indicator glows with the brake",
        "? lamp-left-front / lamp-left-rear / all of them: lamp-left-front dim|lit set brake=pressed (key=on)",
    ),
    ("left front blinker is dim", "lamp-left-front dim (key=on,turn=left)"),
    ("left rear light is dim", "lamp-left-rear dim (key=on,turn=left)"),
    (
        "left turn signals flash too fast",
        "? lamp-left-front / lamp-left-rear / all of them: lamp-left-front fast-flash (key=on,turn=left)",
    ),
    (
        "blinkers won't blink",
        "? turn-lamp / lamp-left-front / lamp-left-rear / all of them: turn-lamp lit (key=on,turn=left)",
    ),
    (
        "fast blink on the left",
        "? lamp-left-front / lamp-left-rear / all of them: lamp-left-front fast-flash (key=on,turn=left)",
    ),
    (
        "indicators blink slow when headlights are on",
        "? turn-lamp / lamp-left-front / lamp-left-rear / all of them: turn-lamp slow-flash set lights=on (key=on,turn=left)",
    ),
    ("neutral light never comes on", "neutral-lamp dark (key=on)"),
    (
        "neutral lamp comes on when I pull in the clutch in gear",
        "neutral-lamp lit set clutch=pressed,neutral=in-gear (key=on)",
    ),
    ("oil light stays on", "oil-lamp lit (key=on,oil-pressure=ok)"),
    ("the oil light is on with the engine running", "oil-lamp lit set engine=idling (key=on,oil-pressure=ok)"),
    ("the oil light comes on with the key off", "oil-lamp lit set key=off (oil-pressure=ok)"),
    (
        "the neutral light glows with the key off and the engine keeps running",
        "neutral-lamp dim|lit set key=off,engine=idling (neutral=in-gear); lost [\"keeps\"]",
    ),
    ("the horn always sounds", "horn sounds (key=on)"),
    ("key off: the oil light comes on", "oil-lamp lit set key=off (oil-pressure=ok)"),
    (
        "key off: the tach dies, the oil light comes on, engine keeps running",
        "rev-gauge zero set key=off,engine=idling; oil-lamp lit set key=off,engine=idling (oil-pressure=ok); lost [\"keeps\"]",
    ),
    ("key on: fan dies", "fan still set key=on (fan-switch=on)"),
    ("horn dead and blows its fuse", "horn silent (key=on,horn-push=pressed); F3 blown (key=on)"),
    (
        "smoke billowing from under the seat",
        "? key on alone / everything off / start-push pressed / lights on / fan-switch on / horn-push pressed / turn left / brake pressed / don't know: under-seat smokes set key=on",
    ),
    (
        "the main fuse gets hot",
        "? key on alone / everything off / start-push pressed / lights on / fan-switch on / horn-push pressed / turn left / brake pressed / don't know: main-fuse hot|smokes set key=on",
    ),
    ("the keys are too hot to touch, engine still running", "key hot|smokes set engine=idling (key=on)"),
    ("the horn wire gets hot when I press the horn", "horn hot|smokes set horn-push=pressed (key=on)"),
    ("plug P9 melted with the lights on", "P9 hot|smokes set lights=on (key=on)"),
    (
        "the orange wire smokes when I turn on the lights",
        "? P9a-1-old / P9a-1-new / P9b-1-new / P9b-1-old / don't know: P9a-1-old smokes set lights=on (key=on)",
    ),
    ("P9 is not hot with the key on", "P9 cool set key=on"),
    ("horn dies when it gets hot", "horn silent (key=on,horn-push=pressed) now and then"),
    (
        "the lights went out, the battery cable and the earth wire are glowing",
        "battery hot|smokes (key=on); ? dash-lamp / head-lamp / tail-lamp / all of them: dash-lamp dark (key=on,lights=park); lost [\"earth\"]",
    ),
    ("it smells burnt", "? tiller / dash / nose / tail / engine / under-seat / don't know: tiller smokes (key=on)"),
    ("the starter relay terminal overheats", "start-relay hot|smokes (key=on,start-push=pressed)"),
    (
        "smoke from the horn and it is dead",
        "horn smokes (key=on,horn-push=pressed); horn silent (key=on,horn-push=pressed)",
    ),
    (
        "the rear light is dim and the fuse box is hot",
        "tail-lamp dim (key=on,lights=park); ? main-fuse / start-fuse / F1 / F2 / F3 / don't know: main-fuse hot|smokes (key=on); lost [\"box\"]",
    ),
    ("the lights went out", "? dash-lamp / head-lamp / tail-lamp / all of them: dash-lamp dark (key=on,lights=park)"),
    ("oil light doesn't light", "oil-lamp dark (key=on)"),
    ("brake light stays on", "stop-lamp lit (key=on)"),
    ("tail light flickers", "tail-lamp dark|dim (key=on,lights=park) now and then"),
    ("tail lamp goes out when i brake", "tail-lamp dark set brake=pressed (key=on,lights=park)"),
    ("headlight dim", "head-lamp dim (key=on,lights=on)"),
    ("head light is dim when the fan is running", "head-lamp dim set fan-switch=on (key=on,lights=on)"),
    ("dash light comes on by itself", "dash-lamp lit (key=on)"),
    ("fuse F3 blows", "F3 blown (key=on)"),
    ("the horn fuse keeps blowing", "F3 blown (key=on)"),
    (
        "it blows a fuse when I turn the lights on",
        "? main-fuse / F1 / all of them: main-fuse blown set lights=on (key=on)",
    ),
    ("main fuse blew", "main-fuse blown (key=on)"),
    (
        "everything is dead",
        "rev-gauge zero (key=on,engine=idling); coolant-gauge zero (key=on,coolant=warm); neutral-lamp dark (key=on); oil-lamp dark (key=on); temp-lamp dark (key=on,coolant=hot); dash-lamp dark (key=on,lights=park); fan still (key=on,fan-switch=on); horn silent (key=on,horn-push=pressed); turn-lamp dark (key=on,turn=left); head-lamp dark (key=on,lights=on); tail-lamp dark (key=on,lights=park); stop-lamp dark (key=on,brake=pressed); lamp-left-front dark (key=on,turn=left); lamp-left-rear dark (key=on,turn=left)",
    ),
    ("rev counter dead since I moved the tiller", "rev-gauge zero (key=on,engine=idling) since \"I moved the tiller\""),
    ("rev counter is dead, it was fine before", "rev-gauge zero (key=on,engine=idling)"),
    ("tach pegs at idle", "rev-gauge pegged set engine=idling (key=on)"),
    (
        "tach bounces when the left indicator is on",
        "rev-gauge moves-up|moves-down|kicks as turn off>left (key=on,engine=idling)",
    ),
    (
        "rev gauge drops to zero when I turn on the headlights",
        "rev-gauge moves-down as lights off>on (key=on,engine=idling)",
    ),
    ("fan won't turn off", "fan runs (key=on)"),
    ("fan runs slow", "fan slow (key=on,fan-switch=on)"),
    (
        "lamp is out",
        "? neutral-lamp / oil-lamp / temp-lamp / dash-lamp / turn-lamp / head-lamp / tail-lamp / stop-lamp / lamp-left-front / lamp-left-rear / all of them: neutral-lamp dark (key=on)",
    ),
    ("the radio hums", "lost [\"radio hums\"]"),
    (
        "gauge dances",
        "? rev-gauge / coolant-gauge / all of them: rev-gauge moves-up|moves-down|kicks (key=on,engine=idling)",
    ),
    (
        "tach needle moves up when I beep the horn, goes away when the lights are on",
        "rev-gauge moves-up as horn-push released>pressed (key=on,engine=idling) cured lights=on",
    ),
    (
        "my starter clicks but the engine doesn't turn",
        "starter on (key=on,start-push=pressed); starter still (key=on,start-push=pressed)",
    ),
    ("turn lamp doesn't blink", "turn-lamp lit (key=on,turn=left)"),
    (
        "tachometer jumpes wen i honk teh horn",
        "rev-gauge moves-up|moves-down|kicks as horn-push released>pressed (key=on,engine=idling)",
    ),
    ("neutral light stays on", "neutral-lamp lit (key=on,neutral=in-gear)"),
    ("stop lamp weak with key on and lights on", "stop-lamp dim set key=on,lights=on (brake=pressed)"),
    ("horn and headlight are dead", "horn silent (key=on,horn-push=pressed); head-lamp dark (key=on,lights=on)"),
    ("horn sounds by itself when I turn the tiller", "horn sounds (key=on) now and then"),
    ("", ""),
    ("???", "lost [\"???\"]"),
];

/// Invented, and written after the code: what did not work then was mended by rule, none by name.
const WRITTEN_AFTER: &[(&str, &str)] = &[
    (
        "tach needle goes up when i honk the horn",
        "rev-gauge moves-up as horn-push released>pressed (key=on,engine=idling)",
    ),
    (
        "rev counter drops wen I push the hooter",
        "rev-gauge moves-down as horn-push released>pressed (key=on,engine=idling)",
    ),
    (
        "the taco jumps every time the horn button is pushed",
        "rev-gauge moves-up|moves-down|kicks as horn-push released>pressed (key=on,engine=idling)",
    ),
    (
        "the rev needle kicks when the horn is pressed and the lights are on",
        "rev-gauge kicks as lights off>on set horn-push=pressed (key=on,engine=idling)",
    ),
    ("horn is very quiet", "horn weak (key=on,horn-push=pressed)"),
    (
        "right blinker flashes too fast",
        "? lamp-right-front / lamp-right-rear / all of them: lamp-right-front fast-flash (key=on,turn=right)",
    ),
    ("temp gauge reads hot as soon as I turn the key", "coolant-gauge high|pegged set key=on (coolant=warm)"),
    (
        "water temp gauge goes up when lights are switched on",
        "coolant-gauge moves-up as lights off>on (key=on,coolant=warm)",
    ),
    ("oil light never comes on with key on", "oil-lamp dark set key=on"),
    ("oil light stays on with engine running", "oil-lamp lit set engine=idling (key=on,oil-pressure=ok)"),
    ("neutral light does not light in neutral", "neutral-lamp dark (key=on)"),
    ("headlight is dim and the horn is weak", "head-lamp dim (key=on,lights=on); horn weak (key=on,horn-push=pressed)"),
    ("headlights go dim when I use the indicators", "head-lamp dim set turn=left (key=on,lights=on); lost [\"go\"]"),
    ("brake lights dont work but tail light does", "stop-lamp dark (key=on,brake=pressed); lost [\"tail light\"]"),
    (
        "starter turns but only when clutch is not pulled",
        "starter still set clutch=pressed (key=on,start-push=pressed) cured clutch=released",
    ),
    ("starter does nothing when it is not in neutral", "starter still set neutral=in-gear (key=on,start-push=pressed)"),
    (
        "horn weak with the horn pressed and clutch not pulled",
        "horn weak set horn-push=pressed,clutch=released (key=on)",
    ),
    ("main fuse blows as soon as key is on", "main-fuse blown set key=on"),
    (
        "tail lamp lights up when I press the brake, brake light dark",
        "tail-lamp lit set brake=pressed (key=on); stop-lamp dark (key=on,brake=pressed)",
    ),
    ("horn honks when lights are turned on", "horn sounds set lights=on (key=on)"),
    ("horn is fine when the lights are on", "horn silent (key=on,horn-push=pressed) cured lights=on"),
    ("fan runs all the time", "fan runs (key=on)"),
    ("fan doesnt run", "fan still (key=on,fan-switch=on)"),
    (
        "the rev needle jumps",
        "? start-push pressed / lights on / fan-switch on / horn-push pressed / turn left / brake pressed / nothing, by itself: rev-gauge moves-up|moves-down|kicks as start-push released>pressed (key=on,engine=idling)",
    ),
    (
        "my rev counter is jumping around",
        "? start-push pressed / lights on / fan-switch on / horn-push pressed / turn left / brake pressed / nothing, by itself: rev-gauge moves-up|moves-down|kicks as start-push released>pressed (key=on,engine=idling)",
    ),
    (
        "headlight doesn't come on and neither does the tail light",
        "head-lamp dark (key=on,lights=on); tail-lamp dark (key=on,lights=park)",
    ),
    (
        "the left indicator works only when the brake is pressed",
        "? lamp-left-front / lamp-left-rear / all of them: lamp-left-front dark (key=on,turn=left) cured brake=pressed",
    ),
    ("the horn sounds by itself when I turn left", "horn sounds set turn=left (key=on)"),
];

#[test]
fn complaints_mean_what_they_say() {
    let mut wrong = String::new();
    for (text, expected) in COMPLAINTS.iter().chain(WRITTEN_AFTER) {
        let got = cart_says(text);
        if got != *expected {
            wrong += &format!("{text}\n      is {got}\n  wanted {expected}\n");
        }
    }
    assert!(wrong.is_empty(), "\n{wrong}");
}

/// A lamp of two filaments is two lamps in what is said of it.
#[test]
fn a_filament_is_meant_by_its_use() {
    let motorcycle = include_str!("../../../rules/machines/lane-motorcycle/wiring.yaml");
    assert_eq!(says(motorcycle, "the brake light is dead"), "rear-lamp dark (key=on,front-brake=pressed)");
    assert_eq!(says(motorcycle, "the rear light is dead"), "rear-lamp dark (key=on,lights=park)");
    let roadster = include_str!("../../../rules/machines/moor-roadster/wiring.yaml");
    assert_eq!(says(roadster, "the left brake light is dead"), "left-tail dark (key=on,brake=pressed)");
    assert_eq!(says(roadster, "the left tail light is dead"), "left-tail dark (key=on,lights=park)");
    assert_eq!(
        says(roadster, "no left brake light when the lights are on"),
        "left-tail dark set lights=on (key=on,brake=pressed)"
    );
    assert_eq!(
        says(roadster, "the left brake light works when the lights are off"),
        "left-tail dark set lights=on (key=on,brake=pressed) cured lights=off"
    );
}
