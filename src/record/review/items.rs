//! Everything a review can remark, by its word. The words stay the same for ever: notes and rules name them.

use super::table::row;
use crate::record::vocab::words;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

words! {
    /// What a remark does.
    Level {
        /// It cannot be, or may not be signed; the remedy names the true way to record it.
        Refuse = "refuse",
        /// The note lacks it: give it, or say why it was not done.
        Missing = "missing",
        /// Unusual: confirm it or explain it. The answer is kept.
        Ask = "ask",
        /// Kept as it is, and marked on the entry for ever.
        Flag = "flag",
    }
}

words! {
    /// Visits in which an item may be needed.
    VisitClass {
        /// Every visit.
        Always = "always",
        /// The first visit of a patient.
        FirstVisit = "first-visit",
        /// Any visit that is neither the first nor a re-examination.
        LaterVisit = "later-visit",
        /// A re-examination.
        ReExamination = "re-examination",
        /// A visit with a procedure.
        Treated = "treated",
        /// A visit with a thrust, by hand or by instrument.
        Thrust = "thrust",
        /// A visit with work inside the mouth.
        MouthWork = "mouth-work",
    }
}

words! {
    /// What is remarked.
    ReviewId {
        // The head of the visit.
        IdentityConfirmed = "identity-confirmed", Place = "place",
        WhoWasInTheRoom = "who-was-in-the-room", VisitTimes = "visit-times",
        // What was told.
        ChangedSinceLast = "changed-since-last", Complaint = "complaint",
        PainIntensity = "pain-intensity", PainWorst = "pain-worst", ComplaintSite = "complaint-site",
        ComplaintSide = "complaint-side", ComplaintQuality = "complaint-quality",
        ComplaintFrequency = "complaint-frequency", ComplaintRadiation = "complaint-radiation",
        ComplaintOnset = "complaint-onset", ComplaintMechanism = "complaint-mechanism",
        ComplaintAggravating = "complaint-aggravating", ComplaintRelieving = "complaint-relieving",
        EarlierCare = "earlier-care", PastHealth = "past-health", Medicines = "medicines",
        FamilyHistory = "family-history", AllergyReviewed = "allergy-reviewed",
        // Screens.
        ScreenToday = "screen", ScreenNotWhole = "screen-not-whole",
        // What was found and thought.
        Findings = "findings", FindingForRegion = "finding-for-region", Assessment = "assessment",
        DiagnosisWithBasis = "diagnosis-with-basis", Considered = "considered",
        ComparedWithLast = "compared-with-last", Tolerance = "tolerance", RiskRemark = "risk-remark",
        // What was agreed.
        AgreedPointer = "agreed", AskedToday = "asked-today", ConsentExplained = "consent-explained",
        ConsentProcedures = "consent-procedures", ConsentAlternatives = "consent-alternatives",
        ConsentRisks = "consent-risks", ConsentQuestions = "consent-questions",
        ConsentInterpreter = "consent-interpreter", ConsentSignature = "consent-signature",
        // What was done.
        Response = "response", InVisitCheck = "in-visit-check", PainBeforeAndAfter = "pain-before-and-after",
        FunctionBeforeAndAfter = "function-before-and-after", AdverseResponse = "adverse-response",
        AdverseFollowUp = "adverse-follow-up",
        // Inside the mouth.
        MouthConsent = "mouth-consent", LatexAnswer = "latex-answer", OralInspection = "oral-inspection",
        StopSignal = "stop-signal", ChaperoneOffered = "chaperone-offered", FreshPair = "fresh-pair",
        // Advice and plan.
        Advice = "advice", WatchFor = "watch-for", NextStep = "next-step",
        PlanFrequency = "plan-frequency", PlanDuration = "plan-duration", PlanGoals = "plan-goals",
        ReExaminationDate = "re-examination-date",
        // What a payer asks for.
        PayerHistory = "payer-history", PayerPresentIllness = "payer-present-illness",
        PayerExamination = "payer-examination", PayerDiagnosisLevel = "payer-diagnosis-level",
        PayerPlan = "payer-plan", PayerTreatmentStart = "payer-treatment-start",
        PayerLaterHistory = "payer-later-history", PayerLaterExamination = "payer-later-examination",
        PayerTreatmentToday = "payer-treatment-today", PayerFindingsTest = "payer-findings-test",
        PayerXRayWindow = "payer-x-ray-window", PayerRegions = "payer-regions",
        // What cannot be signed as it stands.
        InFuture = "in-future", ConsentUntilBeforeFrom = "consent-until-before-from",
        BirthAfterVisit = "birth-after-visit", GuardianIsPatient = "guardian-is-patient",
        GuardianIsMinor = "guardian-is-minor", GloveMissing = "glove-missing",
        GloveIsAllergy = "glove-is-allergy", SideMissing = "side-missing",
        ThrustNotAdjacent = "thrust-not-adjacent", SignerNotOnRoster = "signer-not-on-roster",
        AnothersHands = "anothers-hands", LicenceExpired = "licence-expired", CannotBe = "cannot-be",
        // What is kept and marked for ever.
        ProcedureBeforeConsent = "procedure-before-consent",
        ProcedureBeforeAsked = "procedure-before-asked",
        ProcedureAfterWithdrawal = "procedure-after-withdrawal", ConsentAfterVisit = "consent-after-visit",
        WitnessIsPractitioner = "witness-is-practitioner", AfterNotice = "after-notice",
        NoFindingForRegion = "no-finding-for-region", Late = "late",
        OpenedBeforeLateEntry = "opened-before-late-entry",
        // What is worth a question.
        ThrustSideOpposite = "thrust-side-opposite", FindingNotFollowed = "finding-not-followed",
        ToleratedWithMorePain = "tolerated-with-more-pain", OpeningGain = "opening-gain",
        PainJump = "pain-jump", JawSidesDiffer = "jaw-sides-differ", ReflexesUnlike = "reflexes-unlike",
        WeakWithoutReferral = "weak-without-referral", WeightChanged = "weight-changed",
        IdenticalVitals = "identical-vitals", SameAsLast = "same-as-last",
        ExplainedShortly = "explained-shortly", VisitsOverlap = "visits-overlap",
        OutsideHours = "outside-hours", ArmsWithoutNeuro = "arms-without-neuro-findings",
        AnticoagulantAndThrust = "anticoagulant-and-thrust", ThrustUnderAge = "thrust-under-age",
        PregnancyFaceDown = "pregnancy-face-down", MouthWorkSmallOpening = "mouth-work-small-opening",
        NoAdvice = "no-advice", NoPlan = "no-plan", ReactionOpen = "reaction-open", Unusual = "unusual",
    }
}

impl ReviewId {
    /// What a remark of this kind does.
    pub fn level(self) -> Level {
        row(self).level
    }

    /// What is wrong or lacking, in plain words.
    pub fn words(self) -> &'static str {
        row(self).words
    }

    /// What to do about it.
    pub fn remedy(self) -> &'static str {
        row(self).remedy
    }

    /// Where in the note the value goes (JSON Pointer, `#` standing for the line's place in its list);
    /// none where it is recorded with a command of its own.
    pub fn place(self) -> Option<&'static str> {
        Some(row(self).place).filter(|place| !place.is_empty())
    }

    /// Where in the note "not done, because ..." goes; none where the note keeps it under `not_done`.
    pub fn absence(self) -> Option<&'static str> {
        use ReviewId as R;
        match self {
            R::ChangedSinceLast => Some("/changed_since_last/not_done_because"),
            R::PainIntensity => Some("/complaints/#/pain_now/not_done_because"),
            R::ScreenToday => Some("/screens_not_done_because"),
            R::Findings => Some("/findings/not_done_because"),
            R::Assessment => Some("/assessment/not_done_because"),
            R::Response => Some("/procedures/#/response/not_done_because"),
            R::GloveMissing => Some("/procedures/#/gloves_not_recorded_because"),
            R::FunctionBeforeAndAfter => Some("/reassessment_not_done_because"),
            R::Advice => Some("/advice/not_done_because"),
            R::WatchFor => Some("/advice/watch_for/not_done_because"),
            R::NextStep => Some("/plan/not_done_because"),
            _ => None,
        }
    }

    /// True for an item that the rules list under `[note.needed]`.
    pub fn in_rules(self) -> bool {
        self.level() == Level::Missing && !self.is_payers()
    }

    /// True for an item that only a payer asks for.
    pub fn is_payers(self) -> bool {
        self.word().starts_with("payer-")
    }

    /// True where the keeper of the records may let it be signed all the same, with a reason that is kept:
    /// what was in fact so must be recordable.
    pub fn custodian_may(self) -> bool {
        use ReviewId as R;
        matches!(
            self,
            R::LicenceExpired
                | R::SignerNotOnRoster
                | R::AnothersHands
                | R::GloveIsAllergy
                | R::GuardianIsPatient
                | R::GuardianIsMinor
        )
    }
}
