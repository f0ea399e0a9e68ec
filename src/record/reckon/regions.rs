//! The topic regions: which regions the structures treated count to.

use super::{ReckonError, input, output};
use crate::record::notation::counting::count;
use crate::record::tables::Tables;
use crate::record::tables::levels::{Levels, Regions};
use serde::Deserialize;
use serde_json::Value;

#[derive(Deserialize)]
struct Treated {
    structures: Vec<String>,
}

/// Counts the regions by the tables.
///
/// # Errors
/// Where the input is no such question, or names a structure the tables do not know.
pub fn answer(question: &Value, tables: &Tables) -> Result<Value, ReckonError> {
    let treated: Treated = input(question)?;
    let levels = Levels::of(&tables.trade).map_err(ReckonError)?;
    let regions = Regions::of(&tables.trade).map_err(ReckonError)?;
    output(&count(&treated.structures, &levels, &regions).map_err(ReckonError)?)
}
