//! The published JSON Schemas (2020-12) of files other than records, and of every `--json` output.
//! Those of the records are in [`crate::record::schemas`].

use super::commands::flow::DraftLineOutput;
use super::commands::init::InitOutput;
use super::commands::measures::MeasuresOutput;
use super::commands::missing::{HeldOutput, MissingOutput};
use super::commands::note::NoteOutput;
use super::commands::patient::ChartOutput;
use super::commands::print::EntryOutput;
use super::commands::reckon::ReckonOutput;
use super::commands::release::ReleaseOutput;
use super::commands::slip::SlipOutput;
use super::commands::today::ListOutput;
use super::record::RecordedOutput;
use crate::exit::ErrorOutput;
use crate::ledger::leaf::Leaf;
use crate::practice::place::StoreFile;
use crate::record::coverage::Answer;
use crate::record::kinds::register::{Rules, Staff};
use crate::record::rulebook::file::RulesFileText;
use crate::verify::finding::Report;
use crate::verify::manifest::Manifest;
use schemars::JsonSchema;
use schemars::generate::SchemaSettings;
use serde_json::Value;

/// Schemas of the files a reader meets besides records, with their file names.
pub fn files() -> Vec<(String, Value)> {
    vec![
        named::<Leaf>("leaf", "Leaf: the text of the signed note"),
        named::<Manifest>("package-manifest", "manifest.json of a package"),
        rules_file(),
        named::<StoreFile>("store", "store.json"),
    ]
}

/// The rules file is read and never written, so its schema says what would be accepted.
fn rules_file() -> (String, Value) {
    let mut schema = schemars::schema_for!(RulesFileText).to_value();
    if let Some(members) = schema.as_object_mut() {
        members.insert("title".to_string(), Value::from("A rules file (TOML)"));
    }
    ("rules-file.schema.json".to_string(), schema)
}

/// Schemas of what commands print with `--json`, with their file names. `recorded` is what every
/// command prints that seals one entry; `error` is what any command prints when it could not be done.
pub fn outputs() -> Vec<(String, Value)> {
    vec![
        named::<ErrorOutput>("output-error", "Any command that could not be done"),
        named::<DraftLineOutput>("output-draft-line", "inkfast now and inkfast mark"),
        named::<InitOutput>("output-init", "inkfast init"),
        named::<HeldOutput>("output-held", "inkfast sign --hold"),
        named::<Answer>("output-may", "inkfast may"),
        named::<ListOutput>("output-list", "inkfast today and inkfast open"),
        named::<MeasuresOutput>("output-measures", "inkfast measures"),
        named::<MissingOutput>(
            "output-missing",
            "inkfast missing, and inkfast sign where something is missing",
        ),
        named::<NoteOutput>("output-note", "inkfast note, and lines given to finding, procedure, recheck"),
        named::<Vec<EntryOutput>>("output-openings", "inkfast openings"),
        named::<Vec<ChartOutput>>("output-patient-list", "inkfast patient list"),
        named::<Vec<EntryOutput>>("output-print", "inkfast print"),
        named::<ReckonOutput>("output-reckon", "inkfast reckon"),
        named::<RecordedOutput>("output-recorded", "Every command that seals one entry"),
        named::<ReleaseOutput>("output-release", "inkfast release"),
        named::<Vec<Staff>>("output-roster-list", "inkfast roster list"),
        named::<Vec<Rules>>("output-rules-list", "inkfast rules list"),
        named::<Rules>("output-rules-show", "inkfast rules show"),
        named::<SlipOutput>("output-slip", "inkfast slip"),
        named::<Report>("output-verify", "inkfast verify"),
    ]
}

/// The schema of what is written, rather than of what would be accepted: a field that is always
/// written is required even where null may stand in it.
fn named<T: JsonSchema>(name: &str, title: &str) -> (String, Value) {
    let generator = SchemaSettings::draft2020_12().for_serialize().into_generator();
    let mut schema = generator.into_root_schema_for::<T>().to_value();
    if let Some(members) = schema.as_object_mut() {
        members.insert("title".to_string(), Value::from(title));
    }
    (format!("{name}.schema.json"), schema)
}
