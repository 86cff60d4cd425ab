//! Good files: what each form means in the netlist.

use super::whole;

#[test]
fn short_forms() {
    whole("short-forms.yaml", include_str!("good/short-forms.yaml"));
}
