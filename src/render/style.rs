//! How the page looks: black on white, 11 point, a margin wide enough for a punch, nothing that
//! needs colour, nothing that is fetched.

use super::html::css_string;

/// The style sheet, with a foot line for every printed page.
pub fn sheet(foot: &str) -> String {
    format!(
        "@page {{ margin: 16mm 15mm 18mm 27mm;\n\
         @bottom-left {{ content: {foot}; font: 8pt Georgia, \"Times New Roman\", \"DejaVu Serif\", serif; }}\n\
         @bottom-right {{ content: \"page \" counter(page) \" of \" counter(pages); \
         font: 9pt Georgia, \"Times New Roman\", \"DejaVu Serif\", serif; }} }}\n{RULES}",
        foot = css_string(foot)
    )
}

const RULES: &str = r#"
html { background: #fff; color: #000; }
body { margin: 0; font: 11pt/1.36 Georgia, "Times New Roman", "DejaVu Serif", serif; }
bdi { unicode-bidi: isolate; }
a { color: inherit; text-decoration: none; }
h1 { font-size: 21pt; font-weight: normal; letter-spacing: .02em; margin: 2mm 0 5mm; }
h2 { font-size: 15pt; font-weight: normal; margin: 0 0 3mm; padding-bottom: 1.2mm; border-bottom: 1.5pt solid #000; }
h3 { font-size: 12.5pt; margin: 4.5mm 0 1.2mm; }
h4 { font-size: 11pt; margin: 0 0 .6mm; }
h4.sub { font-style: italic; font-weight: normal; margin: 4mm 0 1mm; }
h1, h2, h3, h4 { break-after: avoid; page-break-after: avoid; }
p { margin: 0 0 2.2mm; orphans: 3; widows: 3; }
ul, ol { margin: 0 0 2.2mm; padding-left: 7mm; }
li { margin-bottom: .7mm; }
.tight li { margin-bottom: .2mm; }
table { border-collapse: collapse; width: 100%; }
td, th { text-align: left; vertical-align: top; font-weight: normal; padding: .7mm 2mm .7mm 0; }
.sheet > thead > tr > td { padding: 0 0 3.5mm; font-size: 9pt; }
.sheet > tbody > tr > td { padding: 3mm 0 0; }
.sheet > tbody > tr.new > td { padding-top: 0; }
.sheet > tbody > tr.new { break-before: page; page-break-before: always; }
.head { width: 100%; border-bottom: .75pt solid #000; } .head td { padding: 0 0 1mm; } .head td.r { text-align: right; }
.slip th { width: 38mm; font-style: italic; }
.slip td, .slip th { border-bottom: .4pt solid #000; padding-top: 1mm; padding-bottom: 1mm; }
.grid { font-size: 9.5pt; line-height: 1.3; margin-bottom: 3mm; }
.grid th { font-style: italic; border-bottom: 1pt solid #000; }
.grid td { border-bottom: .4pt solid #000; overflow-wrap: break-word; }
.grid td:first-child { min-width: 9mm; }
.index { font-size: 9pt; } .index td, .index th { padding-right: 3.5mm; } .t { white-space: nowrap; }
.entries td:nth-child(3) { width: 40mm; } .entries td:nth-child(7) { width: 18mm; } .entries td:nth-child(8) { width: 34mm; }
.signature { break-inside: avoid; page-break-inside: avoid; }
.rows td { padding-top: .35mm; padding-bottom: .35mm; overflow-wrap: anywhere; }
.rows td.l { width: 38mm; font-style: italic; overflow-wrap: normal; }
.rows td.d1 { padding-left: 4mm; } .rows td.d2 { padding-left: 8mm; }
.rows td.d3 { padding-left: 12mm; } .rows td.d4 { padding-left: 16mm; }
.rows th.part { font-weight: bold; padding-top: 2.6mm; border-bottom: .4pt solid #000; break-after: avoid; }
.rows tr, .grid tr, .slip tr { break-inside: avoid; page-break-inside: avoid; }
.moments > tbody > tr > td { border-top: .4pt solid #000; padding-top: 1mm; padding-bottom: 1mm; }
.moments td.time { width: 20mm; font-variant-numeric: tabular-nums; }
.moments .rows { font-size: 10pt; line-height: 1.3; } .moments .rows td.l { width: 30mm; }
.moments > tbody > tr { break-inside: avoid; page-break-inside: avoid; }
.moments .what, .entry > h4, .entry > .meta { break-after: avoid; page-break-after: avoid; }
.visit { border-top: 1pt solid #000; margin-top: 7mm; }
.visit { break-inside: avoid; page-break-inside: avoid; }
.visit > h3 { margin-top: 2.5mm; }
h2 + .visit { border-top: 0; margin-top: 0; } h2 + .visit > h3 { margin-top: 0; }
.entry { margin: 4mm 0 5mm; }
.sheet > tbody > tr > td > :last-child, li:last-child { margin-bottom: 0; }
h2 + p, h3 + p { break-after: avoid; page-break-after: avoid; }
.beneath { break-inside: avoid; page-break-inside: avoid; margin-left: 5mm; padding-left: 4mm; border-left: 1.5pt solid #000; }
.kind { font-weight: normal; font-style: italic; }
.moments .kind, .meta { font-size: 9pt; }
h4 .kind { font-style: normal; font-weight: bold; }
.meta { margin-bottom: 1.2mm; }
.mark { font-size: 9pt; font-weight: bold; white-space: normal; }
del { text-decoration: line-through; text-decoration-thickness: 1pt; }
ins { text-decoration: none; }
.note { font-style: italic; font-size: 10pt; }
.digest { font: 7.5pt/1.3 "DejaVu Sans Mono", "Courier New", monospace; overflow-wrap: anywhere; }
.wording { font-size: 10pt; }
.picture { margin: 0 0 4mm; break-inside: avoid; page-break-inside: avoid; } .picture svg { display: block; }
.measured { font-variant-numeric: tabular-nums; } .measured td:first-child { width: 34mm; }
.blank { display: inline-block; min-width: 55mm; border-bottom: .75pt solid #000; height: 1.1em; }
.blank.short { min-width: 22mm; } .blank.wide { min-width: 100mm; }
.sign { margin-top: 4mm; line-height: 1.8; }
.summary h1 { margin-bottom: 3mm; } .summary h3 { margin-top: 3mm; } .summary p { margin-bottom: 1.2mm; }
.summary .grid { font-size: 9pt; } .summary { font-size: 10pt; line-height: 1.25; }
.short { font-size: 8pt; line-height: 1.17; } .short h1 { font-size: 11pt; margin: 0 0 .4mm; } .short h3 { font-size: 8pt; margin: .9mm 0 0; }
.short p { margin-bottom: .5mm; } .short .grid td:nth-child(2) { width: 45%; } .short .grid { font-size: 7.5pt; line-height: 1.15; margin-bottom: .5mm; } .short .grid td, .short .grid th { padding-top: .1mm; padding-bottom: .1mm; }
@media screen { body { max-width: 180mm; margin: 8mm auto; padding: 0 6mm; } .sheet > tbody > tr.new > td { padding-top: 12mm; } }
"#;
