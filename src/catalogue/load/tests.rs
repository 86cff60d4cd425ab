//! The built-in files, and what becomes of files that are not right.

use super::*;

fn shown(troubles: &[Trouble]) -> String {
    troubles.iter().map(|(source, problem)| problem.render(source)).collect()
}

#[test]
fn every_built_in_file_loads_in_its_fixed_order() {
    let mut catalogue = Catalogue::default();
    let sources = builtin_sources();
    let troubles = lay_over(&mut catalogue, &sources, true);
    assert!(troubles.is_empty(), "\n{}", shown(&troubles));
    let kinds = sources.iter().filter(|s| s.name.starts_with("kinds/")).count();
    assert_eq!(catalogue.kinds.len(), kinds, "two files of one kind");
    for table in TABLES {
        assert!(sources.iter().any(|s| s.name == table), "{table} is missing");
    }
}

/// A sentence may only ask for what is filled in.
fn braces(text: &str) -> Vec<&str> {
    text.split('{').skip(1).filter_map(|rest| rest.split_once('}')).map(|(name, _)| name).collect()
}

#[test]
fn sentences_ask_only_for_what_is_filled_in() {
    let rules = Catalogue::builtin();
    for kind in rules.kinds.values() {
        for (name, mode) in &kind.modes {
            let names = braces(&mode.text);
            assert!(names.contains(&"part"), "{} {name}", kind.name);
            assert!(names.iter().all(|n| ["part", "value"].contains(n)), "{} {name}", kind.name);
            let valued = names.contains(&"value");
            assert!(!valued || mode.argument.is_some(), "{} {name} has no value", kind.name);
        }
        for (name, repair) in &kind.repairs {
            assert!(braces(&repair.text).iter().all(|n| *n == "part"), "{} {name}", kind.name);
        }
        for say in kind.control.iter().flat_map(|c| c.say.values()) {
            assert!(braces(say).iter().all(|n| n.is_empty()), "{} {say}", kind.name);
        }
    }
    let links = rules.joints.values().flat_map(|joint| joint.modes.values());
    for mode in links.chain(rules.wire.modes.values()).chain(rules.wire.plug_modes.values()) {
        let names = braces(&mode.text);
        assert!(names.iter().all(|n| ["site", "value"].contains(n)), "{}", mode.text);
        assert!(!names.contains(&"value") || mode.argument.is_some(), "{}", mode.text);
    }
}

#[test]
fn every_entry_names_its_source_or_says_that_it_has_none() {
    let rules = Catalogue::builtin();
    for kind in rules.kinds.values() {
        let modes = kind.modes.iter().map(|(name, mode)| (name, &mode.source));
        let ratings = kind.ratings.iter().map(|(name, rating)| (name, &rating.source));
        for (name, source) in modes.chain(ratings) {
            assert!(source.is_some(), "{} {name}", kind.name);
        }
    }
}

#[test]
fn the_dangers_that_a_test_can_meet_are_told() {
    let rules = Catalogue::builtin();
    for rule in [
        "alternator-without-battery",
        "ohms-on-live",
        "amps-across-source",
        "bare-bridge",
        "volts-on-signal",
        "crank-long",
        "key-on-long",
        "moving-parts",
    ] {
        let danger = rules.dangers.iter().find(|danger| danger.rule == rule);
        assert!(danger.is_some_and(|d| d.instead.is_some()), "{rule}");
    }
}

#[test]
fn every_control_says_how_to_set_it() {
    for kind in Catalogue::builtin().kinds.values() {
        let Some(control) = &kind.control else { continue };
        assert!(control.settings.len() >= 2, "{}", kind.name);
        for setting in &control.settings {
            assert!(control.say.contains_key(setting), "{} does not say how to set {setting}", kind.name);
        }
    }
}

#[test]
fn severities_are_wide_and_joints_are_above_their_healthy_ohms() {
    let rules = Catalogue::builtin();
    for (name, joint) in &rules.joints {
        let bad = joint.modes["resistive"].argument.as_ref().expect("ohms");
        assert!(bad.to / bad.from >= 100.0, "{name}");
        // Beyond what its spread allows a good one.
        assert!(bad.from > joint.ohms * (3.0 * joint.spread).exp(), "{name}");
    }
}

#[test]
fn the_joints_and_instruments_that_others_ask_for_are_there() {
    let rules = Catalogue::builtin();
    for joint in ["crimp", "solder", "ring", "clamp", "crimp-sleeve", "twist", "mated", "seat"] {
        assert!(rules.joints.contains_key(joint), "{joint}");
    }
    for instrument in ["volts-dc", "volts-ac", "volts-loz", "ohms", "beep", "amps-dc", "test-lamp", "watch"] {
        assert!(rules.procedures.contains_key(instrument), "{instrument}");
    }
    for special in ["nothing-broken", "not-in-file", "wrong-reading"] {
        assert!(rules.weights.specials[special] > 0.0, "{special}");
    }
    for proof in ["assumed", "paper", "beep", "ok", "not-fitted", "capped"] {
        assert!(rules.weights.proof[proof] > 0.0, "{proof}");
    }
}

#[test]
fn codes_of_iec_60757_mean_one_colour_each() {
    // BK BN RD OG YE GN BU VT GY WH PK GD TQ SR: IEC 60757 (profsector.com; GOST 28763-90).
    let codes = [
        ("BK", "black"),
        ("BN", "brown"),
        ("RD", "red"),
        ("OG", "orange"),
        ("YE", "yellow"),
        ("GN", "green"),
        ("BU", "blue"),
        ("VT", "violet"),
        ("GY", "grey"),
        ("WH", "white"),
        ("PK", "pink"),
        ("GD", "gold"),
        ("TQ", "turquoise"),
        ("SR", "silver"),
    ];
    let colours = Catalogue::builtin().colours;
    for (code, name) in codes {
        let owners: Vec<&str> =
            colours.iter().filter(|c| c.also.iter().any(|a| a == code)).map(|c| c.name.as_str()).collect();
        assert_eq!(owners, [name], "{code}");
    }
    assert_eq!(colours.iter().filter(|c| c.also.iter().any(|a| a == "BL")).count(), 2, "BL is black or blue");
}

mod arbitrary {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// Whatever becomes of a file, it is taken or refused with words that can be shown.
        #[test]
        fn mutilated_files_never_panic(
            which in any::<proptest::sample::Index>(), at in any::<proptest::sample::Index>(), cut in 0usize..40, put in ".{0,12}",
        ) {
            let mut source = builtin_sources()[which.index(builtin_sources().len())].clone();
            let mut start = at.index(source.text.len());
            while !source.text.is_char_boundary(start) { start -= 1; }
            let mut end = (start + cut).min(source.text.len());
            while !source.text.is_char_boundary(end) { end += 1; }
            source.text.replace_range(start..end, &put);
            if let Err(troubles) = Catalogue::with(&[source]) {
                prop_assert!(!troubles.is_empty());
                for (source, problem) in troubles {
                    prop_assert!(!problem.render(&source).is_empty());
                }
            }
        }
    }
}
