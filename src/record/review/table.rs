//! Level, words, remedy and place of every remark, in one table. Never change what an id means.

use super::items::{Level, ReviewId};
use ReviewId as R;

/// One row of the table.
pub(super) struct Row {
    /// What it does.
    pub level: Level,
    /// What is wrong or lacking.
    pub words: &'static str,
    /// What to do.
    pub remedy: &'static str,
    /// Where the value goes in the note; empty where it is recorded with a command of its own.
    pub place: &'static str,
}

const fn row_of(level: Level, words: &'static str, remedy: &'static str) -> Row {
    Row { level, words, remedy, place: "" }
}

/// Missing, and recorded with a command of its own or in several places.
const fn missing(words: &'static str, remedy: &'static str) -> Row {
    row_of(Level::Missing, words, remedy)
}

/// Missing at this place of the note.
const fn lacks(place: &'static str, words: &'static str, remedy: &'static str) -> Row {
    Row { place, ..missing(words, remedy) }
}

const fn refuse(words: &'static str, remedy: &'static str) -> Row {
    row_of(Level::Refuse, words, remedy)
}

const fn flag(words: &'static str, remedy: &'static str) -> Row {
    row_of(Level::Flag, words, remedy)
}

const fn ask(words: &'static str, remedy: &'static str) -> Row {
    row_of(Level::Ask, words, remedy)
}

/// The row of a remark.
pub(super) fn row(id: ReviewId) -> Row {
    match id {
        R::IdentityConfirmed => missing(
            "It is not recorded how the patient's identity was confirmed.",
            "Record how and when with `inkfast visit identity`, or say why it was not confirmed.",
        ),
        R::Place => missing(
            "The place of the visit is not recorded.",
            "Say why; the room is recorded when a visit is opened.",
        ),
        R::WhoWasInTheRoom => missing(
            "It is not recorded who was in the room.",
            "Record who it was with `inkfast visit condition`, or say that nobody was there and why.",
        ),
        R::VisitTimes => missing(
            "The end of the visit is not recorded.",
            "Give it with --happened-until, or say why it is not known.",
        ),
        R::ChangedSinceLast => lacks(
            "/changed_since_last",
            "It is not recorded what changed since the last visit.",
            "Write what the patient said, or why it was not asked.",
        ),
        R::Complaint => lacks(
            "/complaints",
            "No complaint is recorded.",
            "Write it in the patient's words, or say why there is none.",
        ),
        R::PainIntensity => lacks(
            "/complaints/#/pain_now",
            "The intensity of pain is not recorded.",
            "Write it from 0 to 10, or why it was not asked.",
        ),
        R::PainWorst => lacks(
            "/complaints/#/pain_worst",
            "The worst pain since last time is not recorded.",
            "Write it from 0 to 10, or why it was not asked.",
        ),
        R::ComplaintSite => lacks(
            "/complaints/#/site",
            "It is not recorded where exactly the complaint is.",
            "Write it, or why it was not asked.",
        ),
        R::ComplaintSide => lacks(
            "/complaints/#/side",
            "The side of the complaint is not recorded.",
            "Write left, right, both or midline, or why it is not known.",
        ),
        R::ComplaintQuality => lacks(
            "/complaints/#/quality",
            "The quality of the complaint is not recorded.",
            "Write it: dull, sharp, burning; or why it was not asked.",
        ),
        R::ComplaintFrequency => lacks(
            "/complaints/#/frequency",
            "It is not recorded how often the complaint comes.",
            "Write it, or why it was not asked.",
        ),
        R::ComplaintRadiation => lacks(
            "/complaints/#/radiation",
            "It is not recorded where the complaint spreads.",
            "Write it, \"nowhere\" included, or why it was not asked.",
        ),
        R::ComplaintOnset => lacks(
            "/complaints/#/onset",
            "It is not recorded when and how the complaint began.",
            "Write it, or why it was not asked.",
        ),
        R::ComplaintMechanism => lacks(
            "/complaints/#/mechanism",
            "It is not recorded what brought the complaint on.",
            "Write it, \"not known\" included, or why it was not asked.",
        ),
        R::ComplaintAggravating => lacks(
            "/complaints/#/aggravating",
            "It is not recorded what makes the complaint worse.",
            "Write it, or why it was not asked.",
        ),
        R::ComplaintRelieving => lacks(
            "/complaints/#/relieving",
            "It is not recorded what eases the complaint.",
            "Write it, or why it was not asked.",
        ),
        R::EarlierCare => lacks(
            "/history/earlier_care",
            "Earlier care and its result are not recorded.",
            "Write them, \"none\" included, or why it was not asked.",
        ),
        R::PastHealth => lacks(
            "/history/illness",
            "Past illnesses, operations and injuries are not recorded.",
            "Write them, \"none\" included, or why it was not asked.",
        ),
        R::Medicines => lacks(
            "/history/medicines",
            "Medicines are not recorded.",
            "Write them, \"none\" included, or why it was not asked.",
        ),
        R::FamilyHistory => lacks(
            "/history/family",
            "Illness in the family is not recorded.",
            "Write it, \"none that bears on this\" included, or why it was not asked.",
        ),
        R::AllergyReviewed => missing(
            "No review of allergies is recorded.",
            "Record it with `inkfast patient allergies`, or say why it was not done.",
        ),
        R::ScreenToday => missing(
            "A screen that this treatment calls for is not recorded for this visit.",
            "Record it with `inkfast screen`, or say why it was not done.",
        ),
        R::ScreenNotWhole => missing(
            "Items of a screen were not asked; not asked is not no.",
            "Record the screen again with every item, or say why they were not asked.",
        ),
        R::Findings => missing(
            "No findings are recorded.",
            "Add them with `inkfast finding`, or say why there are none.",
        ),
        R::FindingForRegion => missing(
            "A region was treated without a finding of this visit.",
            "Add the finding with `inkfast finding`, or say why there is none.",
        ),
        R::Assessment => lacks(
            "/assessment/diagnoses",
            "There is no assessment.",
            "Write a working diagnosis and what it rests on, or say why there is none.",
        ),
        R::DiagnosisWithBasis => lacks(
            "/assessment/diagnoses",
            "There is no working diagnosis with what it rests on.",
            "Write it, or say why there is none.",
        ),
        R::Considered => lacks(
            "/assessment/considered",
            "It is not recorded what else was considered, and how it was ruled out.",
            "Write it, or say why nothing else was.",
        ),
        R::ComparedWithLast => lacks(
            "/assessment/change_since_last",
            "The state is not compared with last time.",
            "Write better, same or worse, and by which measure, or say why not.",
        ),
        R::Tolerance => lacks(
            "/assessment/tolerance",
            "It is not recorded how the treatment is borne over the course.",
            "Write it, or say why it was not judged.",
        ),
        R::RiskRemark => lacks(
            "/assessment/risk_remark",
            "There is no remark on risk.",
            "Write what is minded with this patient, or say why nothing is.",
        ),
        R::AgreedPointer => missing(
            "A procedure rests on no consent and no answer that is recorded.",
            "Record what was agreed with `inkfast consent` or `inkfast asked`, with the time at which it was said; or say why there is none.",
        ),
        R::AskedToday => missing(
            "It is not recorded that the patient was asked today before this procedure.",
            "Record it with `inkfast asked` and the time at which it was said, or say why it was not asked.",
        ),
        R::ConsentExplained => missing(
            "It is not recorded who explained what was consented to, and when.",
            "Record the consent with its explanation, or say why there was none.",
        ),
        R::ConsentProcedures => missing(
            "The consent does not say which procedures were explained.",
            "Record it with the consent or as an addendum, or say why not.",
        ),
        R::ConsentAlternatives => missing(
            "The consent does not name the alternatives, doing nothing among them.",
            "Record them with the consent or as an addendum, or say why they were not named.",
        ),
        R::ConsentRisks => missing(
            "The consent does not name every risk that belongs to the technique.",
            "Record the risks named, or say why they were not.",
        ),
        R::ConsentQuestions => missing(
            "The consent does not say which questions were asked, or that none were.",
            "Record them with the consent or as an addendum, or say why not.",
        ),
        R::ConsentInterpreter => missing(
            "The chart asks for an interpreter, and the consent names none.",
            "Record who interpreted, or say why nobody did.",
        ),
        R::ConsentSignature => missing(
            "The signed paper or the image of the signature is not with the consent.",
            "Keep the paper with `inkfast attach --kind consent-paper`, or say where it is.",
        ),
        R::Response => lacks(
            "/procedures/#/response/word",
            "The response to a procedure is not recorded.",
            "Write it in one word, or say why it was not asked.",
        ),
        R::InVisitCheck => lacks(
            "/checks",
            "Nothing was asked while treating.",
            "Write what was asked and answered, or say why nothing was.",
        ),
        R::PainBeforeAndAfter => missing(
            "Pain is not recorded both before and after.",
            "Add it with `inkfast recheck`, or say why it was not measured.",
        ),
        R::FunctionBeforeAndAfter => missing(
            "No function was measured in the same way before and after.",
            "Add it with `inkfast recheck`, or say why it was not measured.",
        ),
        R::AdverseResponse => lacks(
            "/adverse",
            "A response was worse or dizzy, and no adverse response is described.",
            "Describe it, or say why it was none.",
        ),
        R::AdverseFollowUp => missing(
            "A moderate or severe adverse response has no follow-up, no closing and no entry of its own.",
            "Record it with `inkfast reaction`, or say why nothing follows.",
        ),
        R::MouthConsent => missing(
            "No consent of its own for work inside the mouth is recorded.",
            "Record it with `inkfast consent --kind inside-mouth`, or say why there is none.",
        ),
        R::LatexAnswer => missing(
            "It is not recorded whether the patient reacts to latex.",
            "Record it with `inkfast patient allergies` or the mouth screen, or say why it was not asked.",
        ),
        R::OralInspection => missing(
            "It is not recorded that the mouth was looked at.",
            "Add the finding in the mouth, normal included, with `inkfast finding`, or say why it was not done.",
        ),
        R::StopSignal => missing(
            "No signal for stopping is recorded.",
            "Record it with the mouth screen or the consent, or say why none was agreed.",
        ),
        R::ChaperoneOffered => missing(
            "It is not recorded whether a chaperone was offered and what the answer was.",
            "Record it with the consent or `inkfast visit condition`, or say why none was offered.",
        ),
        R::FreshPair => missing(
            "No fresh pair of gloves was put on before a procedure inside the mouth.",
            "Say why, or correct the line.",
        ),
        R::Advice => lacks(
            "/advice/words",
            "No advice is recorded.",
            "Write it in the words used, or say why none was given.",
        ),
        R::WatchFor => lacks(
            "/advice/watch_for",
            "It is not recorded what the patient should watch for and whom to call.",
            "Write it, or say why it was not said.",
        ),
        R::NextStep => {
            lacks("/plan/next_step", "The next step is not recorded.", "Write it, or say why there is none.")
        }
        R::PlanFrequency => {
            lacks("/plan/frequency", "The plan does not say how often.", "Write it, or say why not.")
        }
        R::PlanDuration => {
            lacks("/plan/duration", "The plan does not say for how long.", "Write it, or say why not.")
        }
        R::PlanGoals => lacks(
            "/plan/goals",
            "The plan has no goal with a measure and a date.",
            "Write one, or say why there is none.",
        ),
        R::ReExaminationDate => lacks(
            "/plan/re_examine_on",
            "The day of the next re-examination is not recorded.",
            "Write it, or say why none is set.",
        ),
        R::PayerHistory => missing(
            "For the payer: the history of a first visit is not whole.",
            "Write the parts that are lacking (past health, mechanism, course, medicines, earlier care), or say why not.",
        ),
        R::PayerPresentIllness => missing(
            "For the payer: the present illness is not described.",
            "Write site, onset, quality, intensity and frequency of the complaint, or say why not.",
        ),
        R::PayerExamination => missing(
            "For the payer: no examination of joints, muscles or nerves is recorded.",
            "Add the findings with `inkfast finding`, or say why not.",
        ),
        R::PayerDiagnosisLevel => lacks(
            "/payer/level",
            "For the payer: the diagnosis names no level of the spine.",
            "Write the segment that is treated, or say why not.",
        ),
        R::PayerPlan => missing(
            "For the payer: the plan lacks frequency, duration, or a goal with an objective measure.",
            "Write what is lacking, or say why not.",
        ),
        R::PayerTreatmentStart => lacks(
            "/payer/treatment_started_on",
            "For the payer: the day the course of treatment started is not recorded.",
            "Write the day of the first treatment for this complaint.",
        ),
        R::PayerLaterHistory => missing(
            "For the payer: the complaint and what changed since the last visit are not both recorded.",
            "Write them, or say why not.",
        ),
        R::PayerLaterExamination => missing(
            "For the payer: no examination of the area in the diagnosis with the change since the last visit is recorded.",
            "Add the finding and the comparison, or say why not.",
        ),
        R::PayerTreatmentToday => missing(
            "For the payer: the treatment given today is not recorded with its level.",
            "Add the procedure with its segment, or say why nothing was done.",
        ),
        R::PayerFindingsTest => missing(
            "For the payer: the findings do not show what its test asks for.",
            "Add the findings that were made (pain or tenderness, asymmetry, range of motion, tissue or tone), or say why not.",
        ),
        R::PayerXRayWindow => lacks(
            "/payer/xray_on",
            "For the payer: no X-ray lies within the window around the start of the course.",
            "Leave the X-ray out and rely on the findings, or give the right day.",
        ),
        R::PayerRegions => missing(
            "For the payer: more regions are treated than have a finding.",
            "Add the findings that were made, or say why there is none; a code counts only regions that the note shows.",
        ),
        R::InFuture => refuse(
            "The visit, or a part of it, lies in the future.",
            "Correct the time. If the clock of this station is wrong, say so with `inkfast clock` first, then sign.",
        ),
        R::ConsentUntilBeforeFrom => refuse(
            "A consent this note rests on ends before it begins.",
            "Record the consent anew as it was given, and rest the note on that; without it the procedure is kept and marked as not covered.",
        ),
        R::BirthAfterVisit => refuse(
            "The patient was born after this visit.",
            "Correct the birth date with `inkfast patient identity`, or the day of the visit; if it is another patient's visit, write it in that chart.",
        ),
        R::GuardianIsPatient => refuse(
            "Somebody decided for the patient who is the patient.",
            "Record who decided with `inkfast guardian`, and the consent as it was given. If it was in fact so, the keeper of the records may sign with a reason.",
        ),
        R::GuardianIsMinor => refuse(
            "Somebody decided for the patient who was under age.",
            "Record who decided with `inkfast guardian`. If it was in fact so, the keeper of the records may sign with a reason.",
        ),
        R::GloveMissing => Row {
            place: "/procedures/#/gloves/material",
            ..refuse(
                "A procedure inside the mouth has no entry about gloves.",
                "Write the material. If none were worn, or nobody remembers, say so: gloves not recorded, because ...",
            )
        },
        R::GloveIsAllergy => refuse(
            "The gloves are of a material this patient is allergic to.",
            "Correct the material if it was another. If it was in fact so, the keeper of the records may sign with a reason; look after the patient first.",
        ),
        R::SideMissing => refuse(
            "The side of a structure that has a left and a right is missing.",
            "Write left, right or both. If nobody remembers, take the line out and say in the remarks what was done and that the side is not remembered.",
        ),
        R::ThrustNotAdjacent => refuse(
            "A thrust names more than one pair of neighboring levels.",
            "Write one procedure for each segment that was thrust.",
        ),
        R::SignerNotOnRoster => refuse(
            "The signer was not on the roster on the day of the visit.",
            "Correct the roster with `inkfast roster` if it is wrong. If it was in fact so, the keeper of the records may sign with a reason.",
        ),
        R::AnothersHands => refuse(
            "A procedure was done by somebody else's hands; each signs their own part.",
            "Leave the line to the one who did it, in a note of their own. If they can't sign any more, the keeper of the records may sign with a reason.",
        ),
        R::LicenceExpired => refuse(
            "The signer's licence had expired before the visit.",
            "Correct the roster with `inkfast roster` if it was renewed. If it was in fact so, the keeper of the records may sign with a reason.",
        ),
        R::CannotBe => refuse("Something in the note cannot be.", "Correct it, then sign."),
        R::ProcedureBeforeConsent => flag(
            "A procedure is earlier than the consent it rests on.",
            "Correct the time if it is a slip. Otherwise sign: it is kept and marked.",
        ),
        R::ProcedureBeforeAsked => flag(
            "A procedure is earlier than the patient's yes of today.",
            "Correct the time if it is a slip. Otherwise sign: it is kept and marked.",
        ),
        R::ProcedureAfterWithdrawal => flag(
            "A procedure is later than a withdrawal that covers it.",
            "Correct the time if it is a slip. Otherwise sign: it is kept and marked.",
        ),
        R::ConsentAfterVisit => flag(
            "A consent was written after the visit ended.",
            "Nothing need be done: it is kept and marked.",
        ),
        R::WitnessIsPractitioner => flag(
            "The witness of a consent is the practitioner.",
            "Nothing can be changed: it is kept and marked. Ask another person next time.",
        ),
        R::AfterNotice => flag(
            "This is written after a notice of claim or complaint.",
            "Write only what belongs into the record; it is kept and marked. Papers for the defence go into the office file.",
        ),
        R::NoFindingForRegion => flag(
            "A region was treated without a finding of this visit.",
            "Add the finding if it was made. Otherwise sign: it is kept and marked.",
        ),
        R::Late => flag(
            "This is written later than the rules allow.",
            "Say why it was finished later; it is kept and marked as late.",
        ),
        R::OpenedBeforeLateEntry => flag(
            "After a request for records the chart was opened shortly before this late note.",
            "Write only what is remembered of the visit itself; it is kept and marked, and the opening stands in the chart.",
        ),
        R::ThrustSideOpposite => ask(
            "The thrust is on the side opposite to the finding.",
            "Confirm it with the method that calls for it, or correct the side.",
        ),
        R::FindingNotFollowed => ask(
            "A finding is followed by no procedure and no plan.",
            "Say what is to become of it, or add it to the plan.",
        ),
        R::ToleratedWithMorePain => ask(
            "A procedure is called tolerated, and pain rose.",
            "Read both again, or say how they go together.",
        ),
        R::OpeningGain => ask(
            "Mouth opening grew more than is usual in one visit.",
            "Measure again, or say how it was measured.",
        ),
        R::PainJump => {
            ask("Pain changed more than is usual in one visit.", "Ask again, or say what changed it.")
        }
        R::JawSidesDiffer => ask(
            "The jaw moves to one side much farther than to the other.",
            "Measure both again, or say what explains it.",
        ),
        R::ReflexesUnlike => ask(
            "A reflex is not the same on both sides.",
            "Try both again, or say what it means and what follows.",
        ),
        R::WeakWithoutReferral => ask(
            "A muscle is weak, and nothing is said about a referral.",
            "Say in the plan whether the patient is referred, or say why not.",
        ),
        R::WeightChanged => {
            ask("The weight changed much in a short time.", "Weigh again, or ask what happened, and say it.")
        }
        R::IdenticalVitals => ask(
            "The vital signs are the same in visits running.",
            "Say that they were taken today, or correct them.",
        ),
        R::SameAsLast => ask(
            "The note is almost the same as the last one.",
            "Read it through and change what is not so today, or say that it is so.",
        ),
        R::ExplainedShortly => ask(
            "Very little time lies between the explanation and the consent to a first thrust.",
            "Say how it was explained, or correct the times.",
        ),
        R::VisitsOverlap => ask(
            "Another visit of this practitioner in another room overlaps with this one.",
            "Correct the times, or say how it was.",
        ),
        R::OutsideHours => ask("The visit lies outside opening hours.", "Correct the time, or say why."),
        R::ArmsWithoutNeuro => ask(
            "Symptoms in both arms, a thrust to the neck, and no strength, reflex or feeling tested.",
            "Add what was tested, or say why it was right to go ahead.",
        ),
        R::AnticoagulantAndThrust => {
            ask("A thrust in a patient who takes blood thinners.", "Say why it was right to go ahead.")
        }
        R::ThrustUnderAge => ask(
            "A thrust in a patient younger than the practice's rules foresee.",
            "Say why it was right to go ahead.",
        ),
        R::PregnancyFaceDown => {
            ask("A pregnant patient was treated face-down.", "Say how she lay, or correct the position.")
        }
        R::MouthWorkSmallOpening => ask(
            "Work inside the mouth with a very small opening.",
            "Measure again, or say why it was right to go ahead.",
        ),
        R::NoAdvice => ask("No advice is recorded.", "Say why none was given, or write it."),
        R::NoPlan => ask("No plan is recorded.", "Say why there is none, or write it."),
        R::ReactionOpen => ask(
            "An adverse reaction is still open.",
            "Say how the patient is now, or close it with `inkfast reaction close`.",
        ),
        R::Unusual => ask("Something in the note is unusual.", "Read it again, or say why it is right."),
    }
}
