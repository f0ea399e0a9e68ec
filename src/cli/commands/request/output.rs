//! What `request` prints with `--json`.

use crate::practice::request::Dealing;
use crate::practice::request_lists::OfChart;
use crate::record::kinds::Day;
use crate::record::kinds::release::{Request, RequestStep};
use crate::record::kinds::request::{FeeTold, Lacking, Scope};
use crate::record::request::gate::Stop;
use crate::record::request::letter::Letter;
use crate::record::request::standing::State;
use crate::record::review::Remark;
use serde::Serialize;

/// A request in a list.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct RequestListed {
    /// Number of the request.
    pub request: u64,
    /// Chart number.
    pub chart: String,
    /// Name of the patient.
    pub name: String,
    /// Who asks.
    pub from: String,
    /// By which right.
    pub asker: String,
    /// What sort of request.
    pub kind: String,
    /// Day received.
    pub received: Day,
    /// Day the answer is due; null where none is set.
    pub due: Option<Day>,
    /// True when that day is over and it is open still.
    pub overdue: bool,
    /// Where it stands.
    pub state: State,
}

/// A request with everything that followed.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct RequestOutput {
    /// Number of the request.
    pub request: u64,
    /// Chart number.
    pub chart: String,
    /// Where it stands.
    pub state: State,
    /// Day the answer is due now; null where none is set.
    pub due: Option<Day>,
    /// The rule that lets something be disclosed to whoever asks.
    pub lawful_basis: String,
    /// The part of the chart that may go out; null where nothing that is asked is named in the papers.
    pub may_go_out: Option<Scope>,
    /// What stands against answering it now.
    pub stops: Vec<Stop>,
    /// The request.
    pub asked: Request,
    /// Its steps.
    pub steps: Vec<StepTaken>,
    /// Numbers of the releases that name it.
    pub releases: Vec<u64>,
}

/// A step with its number.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct StepTaken {
    /// Number of the entry.
    pub entry: u64,
    /// The step.
    pub step: RequestStep,
}

/// A step that was recorded.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct StepOutput {
    /// Number of the entry.
    pub entry: u64,
    /// Number of the request.
    pub request: u64,
    /// Where it stands now.
    pub state: State,
    /// Day the answer is due now; null where none is set.
    pub due: Option<Day>,
    /// What stands against answering it now.
    pub stops: Vec<Stop>,
    /// The letter that belongs to the step; null where none does.
    pub letter: Option<Letter>,
    /// The fee that was told; null where the step is none.
    pub fee: Option<FeeTold>,
    /// What the notes of the days asked for lack; null where the step is no such list.
    pub lacking: Option<Vec<LackingOutput>>,
}

/// A visit and what its note lacks.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct LackingOutput {
    /// The visit.
    pub visit: Lacking,
    /// What the list before signing names.
    pub remarks: Vec<Remark>,
}

/// A request as a row of the list.
pub fn listed(one: &OfChart, today: Day) -> RequestListed {
    let standing = &one.standing;
    let (state, due) = (standing.state(), standing.due());
    RequestListed {
        request: standing.seq,
        chart: one.chart_no.clone(),
        name: one.name.clone(),
        from: standing.request.from.clone(),
        asker: standing.asker().word().to_string(),
        kind: standing.request.kind.word().to_string(),
        received: standing.request.received_on,
        due,
        overdue: state == State::Open && due.is_some_and(|due| due < today),
        state,
    }
}

/// A request as it stands.
pub fn whole(dealing: &Dealing, stops: Vec<Stop>) -> RequestOutput {
    let standing = &dealing.standing;
    RequestOutput {
        request: standing.seq,
        chart: dealing.face.chart_no.clone(),
        state: standing.state(),
        due: standing.due(),
        lawful_basis: standing.asker().lawful_basis().to_string(),
        may_go_out: standing.may_go_out(),
        stops,
        asked: standing.request.clone(),
        steps: standing
            .steps
            .iter()
            .map(|(entry, step)| StepTaken { entry: *entry, step: step.clone() })
            .collect(),
        releases: standing.releases.clone(),
    }
}
