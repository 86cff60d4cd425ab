//! A real browser reads the drawings as XML, shows them, and tells where their words lie.

use super::{built_in, drawn, drawn_in, parts};
use ohmward::drawing::charts;
use ohmward::drawing::page::Wish;
use ohmward::drawing::plugs::Rows;
use ohmward::drawing::svg::svg;
use serde_json::Value;
use std::process::Command;

/// Names that the browser goes by.
const BROWSERS: [&str; 2] = ["chromium", "chromium-browser"];

/// Every drawing is parsed as XML, put on the page, and asked for the boxes of its words, which must not meet by more
/// than a hair, nor leave it.
const SCRIPT: &str = r#"
const out = [];
for (const source of document.querySelectorAll("script[type='text/plain']")) {
  const name = source.dataset.name;
  const parsed = new DOMParser().parseFromString(source.textContent.trim(), "image/svg+xml");
  const error = parsed.querySelector("parsererror");
  if (error) { out.push({name, error: error.textContent}); continue; }
  const svg = document.body.appendChild(document.importNode(parsed.documentElement, true));
  const page = svg.viewBox.baseVal;
  const texts = [...svg.querySelectorAll("text")].map(t => ({t: t.textContent, b: t.getBBox()}));
  const bad = [];
  for (let i = 0; i < texts.length; i++) {
    const a = texts[i].b;
    if (a.x < 0 || a.y < 0 || a.x + a.width > page.width || a.y + a.height > page.height) bad.push([texts[i].t, "off the page"]);
    for (let j = i + 1; j < texts.length; j++) {
      const b = texts[j].b;
      const wide = Math.min(a.x + a.width, b.x + b.width) - Math.max(a.x, b.x);
      // A line box is taller than its letters.
      const high = Math.min(a.y + a.height, b.y + b.height) - Math.max(a.y, b.y);
      if (wide > 1.5 && high > 0.45 * Math.min(a.height, b.height)) bad.push([texts[i].t, texts[j].t]);
    }
  }
  out.push({name, texts: texts.length, bad, role: svg.getAttribute("role"), title: svg.querySelector("title").textContent,
            foreign: svg.querySelectorAll("script, image, foreignObject, [href]").length});
  svg.remove();
}
document.body.textContent = "";
const pre = document.body.appendChild(document.createElement("pre"));
pre.id = "told";
pre.textContent = JSON.stringify(out);
"#;

/// What the browser tells of these drawings.
fn told(drawings: &[(String, String)]) -> Vec<Value> {
    let mut page = String::from("<!DOCTYPE html><html><head><meta charset=\"utf-8\"></head><body>\n");
    for (name, text) in drawings {
        assert!(!text.contains("</script"), "{name}");
        page.push_str(&format!("<script type=\"text/plain\" data-name=\"{name}\">{text}</script>\n"));
    }
    page.push_str(&format!("<script>{SCRIPT}</script></body></html>\n"));
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("drawings.html");
    std::fs::write(&file, page).unwrap();
    let run = |browser: &str| {
        Command::new(browser)
            .args(["--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--dump-dom"])
            .arg(format!("--user-data-dir={}", folder.path().join("profile").display()))
            .arg(format!("file://{}", file.display()))
            .output()
    };
    let output = BROWSERS.iter().find_map(|browser| run(browser).ok());
    let output = output.expect("this check needs a browser: install it (apt-get install chromium fonts-dejavu-core)");
    let dom = String::from_utf8_lossy(&output.stdout);
    let told = dom.split("<pre id=\"told\">").nth(1).and_then(|rest| rest.split("</pre>").next());
    let told = told.unwrap_or_else(|| {
        panic!("the browser told nothing:\n{dom:.2000}\n{}", String::from_utf8_lossy(&output.stderr))
    });
    let told = told.replace("&lt;", "<").replace("&gt;", ">").replace("&quot;", "\"").replace("&amp;", "&");
    serde_json::from_str(&told).unwrap()
}

#[test]
fn a_browser_reads_every_drawing_and_no_words_meet_in_it() {
    let mut drawings = Vec::new();
    for name in crate::machines::names() {
        let mut machine = built_in(&name);
        let rules = machine.catalogue.draw.clone();
        let busy = drawn(&mut machine, &Wish::default(), "").0;
        let rest = drawn_in(&mut machine, &Wish::default(), Vec::new(), "").0;
        let plugs: Vec<String> = machine.netlist.plugs.keys().cloned().collect();
        drawings.push((format!("{name}, busy"), svg(&busy.page, &rules)));
        drawings.push((format!("{name}, at rest"), svg(&rest.page, &rules)));
        drawings.push((format!("{name}, charts"), svg(&charts::charts(&machine, &plugs, &Rows::new()), &rules)));
    }
    let mut cart = built_in("orchard-cart");
    cart.netlist.title = "Cart <script>alert(1)</script> & \"more\" \u{202e}".into();
    let rules = cart.catalogue.draw.clone();
    let (two, _) = drawn(&mut cart, &parts(&["horn", "rev-gauge"]), "G2:resistive(2)");
    drawings.push(("horn and rev gauge".into(), svg(&two.page, &rules)));
    let told = told(&drawings);
    assert_eq!(told.len(), drawings.len());
    for one in &told {
        let name = &one["name"];
        assert!(one["error"].is_null(), "{name}: {}", one["error"]);
        assert!(one["texts"].as_u64() > Some(20), "{name}: {one}");
        assert_eq!(one["bad"].as_array().map(Vec::len), Some(0), "{name}: {}", one["bad"]);
        assert_eq!((one["foreign"].as_u64(), one["role"].as_str()), (Some(0), Some("img")), "{name}");
    }
    let title = told.last().unwrap()["title"].as_str().unwrap();
    assert_eq!(title, "Cart <script>alert(1)</script> & \"more\" \u{25a1}: horn, rev-gauge");
}
