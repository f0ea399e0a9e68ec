//! The published JSON Schemas (2020-12) of files other than records, and of every `--json` output.
//! Those of the records are in [`crate::record::schemas`].

use super::commands::accounting::AccountingOutput;
use super::commands::consent::receipt::ReceiptOutput;
use super::commands::custody::NoticesOutput;
use super::commands::dispose::{DestroyedOutput, PlanOutput};
use super::commands::flow::DraftLineOutput;
use super::commands::hold::HoldOutput;
use super::commands::init::InitOutput;
use super::commands::keep::{DisposedOutput, KeepListOutput, KeepOutput};
use super::commands::measures::MeasuresOutput;
use super::commands::missing::{HeldOutput, MissingOutput};
use super::commands::note::NoteOutput;
use super::commands::office::OfficeOutput;
use super::commands::openings::OpeningsOutput;
use super::commands::patient::ChartOutput;
use super::commands::picture::PictureOutput;
use super::commands::print::EntryOutput;
use super::commands::reckon::ReckonOutput;
use super::commands::rehearse::RehearseOutput;
use super::commands::release::ReleaseOutput;
use super::commands::request::{RequestListed, RequestOutput, StepOutput};
use super::commands::restore::RestoreOutput;
use super::commands::roster::LeaverOutput;
use super::commands::safecopy::{KnownCopyOutput, SafeCopyOutput};
use super::commands::slip::SlipOutput;
use super::commands::slip::stamp::StampOutput;
use super::commands::slip::witness::WitnessedOutput;
use super::commands::stolen::StolenOutput;
use super::commands::today::ListOutput;
use super::commands::unlock::{LockOutput, UnlockOutput};
use super::record::RecordedOutput;
use crate::exit::ErrorOutput;
use crate::ledger::leaf::Leaf;
use crate::practice::copies::SafeCopyFile;
use crate::practice::emergency::EmergencyOpening;
use crate::practice::paper::Paper;
use crate::practice::place::StoreFile;
use crate::record::coverage::Answer;
use crate::record::kinds::register::{Rules, Staff};
use crate::record::request::gate::Stop;
use crate::record::request::letter::Letter;
use crate::record::rulebook::file::RulesFileText;
use crate::record::signature::SignatureFile;
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
        named::<SafeCopyFile>("safecopy", "safecopy.json of a safe copy"),
        named::<SignatureFile>("signature", "The strokes of a signature given on a screen"),
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
        named::<AccountingOutput>("output-accounting", "inkfast accounting"),
        named::<ErrorOutput>("output-error", "Any command that could not be done"),
        named::<DraftLineOutput>("output-draft-line", "inkfast now and inkfast mark"),
        named::<InitOutput>("output-init", "inkfast init"),
        named::<HeldOutput>("output-held", "inkfast sign --hold"),
        named::<Vec<HoldOutput>>("output-hold-list", "inkfast hold list"),
        named::<DisposedOutput>("output-keep-certificate", "inkfast keep certificate"),
        named::<Vec<DisposedOutput>>("output-keep-disposed", "inkfast keep disposed"),
        named::<KeepListOutput>("output-keep-list", "inkfast keep due and inkfast keep blocked"),
        named::<KeepOutput>("output-keep-until", "inkfast keep until"),
        named::<Vec<DestroyedOutput>>(
            "output-dispose",
            "inkfast dispose chart --destroy, and inkfast dispose finish",
        ),
        named::<PlanOutput>("output-dispose-plan", "inkfast dispose chart, where nothing was destroyed"),
        named::<LockOutput>("output-lock", "inkfast lock"),
        named::<Answer>("output-may", "inkfast may"),
        named::<ListOutput>("output-list", "inkfast today and inkfast open"),
        named::<MeasuresOutput>("output-measures", "inkfast measures"),
        named::<MissingOutput>(
            "output-missing",
            "inkfast missing, and inkfast sign where something is missing",
        ),
        named::<NoteOutput>("output-note", "inkfast note, and lines given to finding, procedure, recheck"),
        named::<Vec<EntryOutput>>("output-openings", "inkfast openings CHART"),
        named::<OpeningsOutput>("output-openings-all", "inkfast openings, and inkfast openings review"),
        named::<Vec<EmergencyOpening>>("output-openings-emergency", "inkfast openings emergency"),
        named::<NoticesOutput>("output-custody-notices", "inkfast custody notices"),
        named::<Vec<Paper>>("output-paper-list", "inkfast paper list"),
        named::<LeaverOutput>("output-roster-leaver", "inkfast roster leaver"),
        named::<Vec<ChartOutput>>("output-patient-list", "inkfast patient list"),
        named::<PictureOutput>("output-picture", "inkfast picture"),
        named::<Vec<EntryOutput>>("output-print", "inkfast print"),
        named::<ReceiptOutput>("output-receipt", "inkfast consent receipt"),
        named::<ReckonOutput>("output-reckon", "inkfast reckon"),
        named::<RehearseOutput>("output-rehearse", "inkfast rehearse"),
        named::<RestoreOutput>("output-restore", "inkfast restore"),
        named::<SafeCopyOutput>("output-safecopy", "inkfast safecopy"),
        named::<Vec<KnownCopyOutput>>("output-safecopy-list", "inkfast safecopy list"),
        named::<StolenOutput>("output-stolen", "inkfast stolen"),
        named::<RecordedOutput>("output-recorded", "Every command that seals one entry"),
        named::<ReleaseOutput>("output-release", "inkfast release"),
        named::<Vec<OfficeOutput>>("output-office-list", "inkfast office list"),
        named::<OfficeOutput>("output-office-show", "inkfast office show"),
        named::<Vec<RequestListed>>("output-request-list", "inkfast request list"),
        named::<Letter>("output-request-letter", "inkfast request show --letter"),
        named::<RequestOutput>("output-request-show", "inkfast request show"),
        named::<StepOutput>(
            "output-request-step",
            "inkfast request check, extend, fee, return, decline, close, and answer in words",
        ),
        named::<Vec<Stop>>(
            "output-request-stops",
            "inkfast request answer and release where it is asked first",
        ),
        named::<Vec<Staff>>("output-roster-list", "inkfast roster list"),
        named::<Vec<Rules>>("output-rules-list", "inkfast rules list"),
        named::<Rules>("output-rules-show", "inkfast rules show"),
        named::<SlipOutput>("output-slip", "inkfast slip"),
        named::<Vec<StampOutput>>("output-slip-stamps", "inkfast slip stamps, and inkfast slip stamp-keep"),
        named::<WitnessedOutput>("output-slip-witness", "inkfast slip witness"),
        named::<UnlockOutput>("output-unlock", "inkfast unlock"),
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
