//! Which part of the chart is released, what of it is withheld, and whether it was released before.

use crate::cli::context::Context;
use crate::practice::release::{Production, Span, Undecided, Withhold};
use crate::record::kinds::Day;
use crate::record::kinds::release::{Determination, WithholdReason};
use crate::record::kinds::request::Scope;
use crate::record::kinds::{info, title};
use crate::trouble::{Kind, Outcome, Trouble};
use clap::{Arg, ArgAction, Command, value_parser};

/// Adds the options of this file.
pub(super) fn add_args(cmd: Command) -> Command {
    let day = |name: &'static str, help: &'static str| {
        Arg::new(name).long(name).value_name("DAY").conflicts_with("again").help(help)
    };
    let list = |name: &'static str, value: &'static str, help: &'static str| {
        Arg::new(name)
            .long(name)
            .value_name(value)
            .action(ArgAction::Append)
            .conflicts_with("again")
            .help(help)
    };
    let release = |name: &'static str, help: &'static str| {
        Arg::new(name).long(name).value_name("NUMBER").value_parser(value_parser!(u64)).help(help)
    };
    cmd.arg(day("from", "Only entries from this date of service on, with what they rest on"))
        .arg(day("until", "Only entries up to this date of service, with what they rest on"))
        .arg(list("kind", "KIND", "Only entries of this kind, with what they rest on; may be repeated"))
        .arg(
            Arg::new("whole")
                .long("whole")
                .action(ArgAction::SetTrue)
                .conflicts_with_all(["from", "until", "kind", "again"])
                .help("The whole chart, whatever dates the request names"),
        )
        .arg(list(
            "withhold",
            "NUMBER=REASON[: WORDS]",
            "Withhold the contents of this entry; may be repeated. Reasons: another-person, psychotherapy-notes, \
             for-proceeding, likely-harm, restriction-agreed, misfiled, held-back (dealings with others only)",
        ))
        .arg(
            list("give", "NUMBER", "This entry goes along although it is also about one that is withheld")
                .value_parser(value_parser!(u64)),
        )
        .arg(list(
            "determination",
            "NUMBER=NAME,LICENCE,DAY",
            "The licensed professional's determination, for likely-harm",
        ))
        .arg(release("again", "The package of this earlier release once more, the same bytes inside the seal"))
        .arg(
            release("since", "A package of now that lists what differs from that of this earlier release")
                .conflicts_with("again"),
        )
}

fn all(context: &Context<'_>, name: &str) -> Vec<String> {
    context.matches.get_many::<String>(name).into_iter().flatten().cloned().collect()
}

/// Which part of the chart: as given, else what may go out for the request, else the whole.
pub(super) fn span(context: &Context<'_>, may_go_out: Option<Scope>) -> Outcome<Span> {
    let now = context.now();
    let day = |name: &str| -> Outcome<Option<Day>> {
        let read = context.text(name).map(|text| now.read_date(&text).map(Day)).transpose();
        read.map_err(|why| Trouble::input(format!("--{name}: {why}"), "Correct it and do it again."))
    };
    let (from, until, kinds) = (day("from")?, day("until")?, all(context, "kind"));
    let span = Span { from, until, days: Vec::new(), kinds };
    if let Some(unknown) = span.kinds.iter().find(|kind| info(kind).is_none_or(|row| row.word == "keys")) {
        return Err(Trouble::input(
            format!("--kind: there is no kind of entry called {unknown:?}."),
            "Kinds are words like visit, consent, measure, screen, attachment: `inkfast print` shows them.",
        ));
    }
    if let (Some(from), Some(until)) = (span.from, span.until)
        && until < from
    {
        return Err(Trouble::input("--until is before --from.", "Correct it and do it again."));
    }
    let Some(may_go_out) = may_go_out.filter(|_| production(context) == Production::New) else {
        return Ok(span);
    };
    if !span.is_limited() && !context.flag("whole") {
        return Ok(may_go_out.into_span());
    }
    let given = Scope { first: span.from, last: span.until, dates: Vec::new(), kinds: span.kinds.clone() };
    match given.is_within(&may_go_out) {
        true => Ok(span),
        false => Err(Trouble::new(
            Kind::Refused,
            format!("That is more than may go out for this request: {}.", may_go_out.words()),
            "Nothing was recorded and nothing was written.",
            "Leave out --from, --until, --kind and --whole, or record a paper that names more.",
        )),
    }
}

/// What goes along although it is also about something withheld.
pub(super) fn given(context: &Context<'_>) -> Vec<u64> {
    context.matches.get_many::<u64>("give").into_iter().flatten().copied().collect()
}

/// Says what has to be decided before anything leaves; none where nothing has.
pub(super) fn to_decide(undecided: &[Undecided]) -> Option<String> {
    let list = |numbers: &[u64]| numbers.iter().map(u64::to_string).collect::<Vec<_>>().join(", ");
    let lines: Vec<String> = undecided
        .iter()
        .map(|one| {
            format!(
                "Entry {} ({}) is about {}, which is withheld, and about {}, which is given.",
                one.entry,
                title(&one.kind).to_lowercase(),
                list(&one.withheld),
                list(&one.given)
            )
        })
        .collect();
    (!lines.is_empty()).then(|| {
        format!(
            "{}\nNothing was recorded and nothing was written. Read each, then say which: --give NUMBER if it tells \
             nothing of what is withheld, or --withhold NUMBER=REASON.",
            lines.join("\n")
        )
    })
}

/// Whether it is a second production.
pub(super) fn production(context: &Context<'_>) -> Production {
    match (context.number("again"), context.number("since")) {
        (Some(first), _) => Production::Again(first),
        (None, Some(first)) => Production::Since(first),
        (None, None) => Production::New,
    }
}

/// What is withheld, with the determinations that belong to it.
pub(super) fn withheld(context: &Context<'_>) -> Outcome<Vec<Withhold>> {
    let mut held = all(context, "withhold").iter().map(|text| one(text)).collect::<Outcome<Vec<_>>>()?;
    for text in all(context, "determination") {
        let read = text.split_once('=').and_then(|(n, made)| Some((n.trim().parse::<u64>().ok()?, made)));
        let made = read.and_then(|(entry, made)| {
            // A name may hold a comma; a licence and a day don't.
            let mut parts = made.rsplitn(3, ',').map(str::trim);
            let (on, licence, by) = (parts.next()?, parts.next()?, parts.next()?);
            let on = context.now().read_date(on).map(Day).ok()?;
            Some((entry, Determination { by: by.to_string(), licence: licence.to_string(), on }))
        });
        let fitting = made.and_then(|(entry, made)| {
            let one = held.iter_mut().find(|h| h.entry == entry && h.reason == WithholdReason::LikelyHarm)?;
            one.determination = Some(made);
            Some(())
        });
        fitting.ok_or_else(|| {
            Trouble::input(
                "--determination needs the number of an entry withheld for likely-harm, a name, a licence and a \
                 day, like 214=Odile Farrow,PSY-4410,2025-09-20.",
                "Correct it and do it again.",
            )
        })?;
    }
    Ok(held)
}

fn one(text: &str) -> Outcome<Withhold> {
    let read = text.split_once('=').and_then(|(n, why)| {
        let (reason, words) = match why.split_once(':') {
            Some((reason, words)) => (reason, Some(words.trim().to_string())),
            None => (why, None),
        };
        let reason = WithholdReason::from_word(reason.trim())?;
        Some(Withhold { words, ..Withhold::new(n.trim().parse().ok()?, reason) })
    });
    read.ok_or_else(|| {
        Trouble::input(
            "--withhold needs the number of an entry and a reason, like 214=another-person or \
             214=another-person: her sister's letter.",
            format!("Reasons: {}.", WithholdReason::WORDS.join(", ")),
        )
    })
}
