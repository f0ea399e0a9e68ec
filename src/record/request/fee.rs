//! What a copy may cost, worked out from its parts and told before it is made. Whether each part may be asked
//! for is [`crate::record::reckon::fees`]; the sum is worked out here and never typed.

use crate::record::kinds::request::{FeePart, FeeTold};
use crate::record::reckon::fees::{CopyKind, Fee, Method, Problem, problems};
use crate::record::tables::Tables;
use crate::record::tables::copying::{CopyFormat, FeeTables};

/// What a fee is worked out from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Parts {
    /// Method; none: no fee is asked for.
    pub method: Option<Method>,
    /// Parts by name, in cents.
    pub parts: Vec<(String, u64)>,
    /// The flat sum, in cents.
    pub flat_cents: u64,
    /// True for a copy on paper.
    pub on_paper: bool,
    /// Pages, for the ceiling of a place.
    pub pages: u64,
    /// The place whose ceiling is looked at, by its name in the table.
    pub place: Option<String>,
    /// The person asked for a stick, a disc or the like.
    pub media_asked: bool,
    /// It is mailed.
    pub mailed: bool,
    /// A summary and its fee were agreed beforehand.
    pub summary_agreed: bool,
    /// The asker was told the fee beforehand.
    pub told: bool,
    /// Currency.
    pub currency: Option<String>,
    /// It is an accounting of disclosures, and the first in the time in which one is free.
    pub free_accounting: bool,
}

/// Works a fee out.
///
/// # Errors
/// Every reason why it may not be asked for, one line each.
pub fn work_out(asked: &Parts, tables: &Tables) -> Result<FeeTold, Vec<String>> {
    let table = FeeTables::of(tables).map_err(|why| vec![why])?;
    let Some(method) = asked.method else { return Ok(none("no fee is asked for")) };
    let sum = match method {
        Method::Flat => Some(asked.flat_cents),
        Method::Actual | Method::Average => {
            asked.parts.iter().try_fold(0u64, |sum, (_, cents)| sum.checked_add(*cents))
        }
    };
    let Some(sum) = sum else { return Err(vec!["the sum is too great to be one".to_string()]) };
    let mut wrong: Vec<String> = Vec::new();
    if asked.free_accounting && sum > 0 {
        wrong.push("this accounting is the first in its time, and free (45 CFR 164.528(c)(2))".to_string());
    }
    // An accounting is no copy: what limits its fee is that it is told beforehand.
    let fee = Fee {
        method,
        amount_cents: sum,
        parts: asked.parts.iter().cloned().collect(),
        held_electronically: true,
        copy: if asked.on_paper { CopyKind::Paper } else { CopyKind::Electronic },
        portable_media_asked: asked.media_asked,
        mailed: asked.mailed,
        summary_agreed: asked.summary_agreed,
        summary_fee_agreed: asked.summary_agreed,
        told_in_advance: asked.told,
        per_page: false,
    };
    wrong.extend(problems(&fee, &table.federal).iter().map(|one| problem(one, &table.federal.parts_allowed)));
    let ceiling = asked.place.as_ref().map(|place| ceiling(&table, place, asked, sum, &mut wrong));
    if !wrong.is_empty() {
        return Err(wrong);
    }
    Ok(FeeTold {
        method: word(method).to_string(),
        parts: asked
            .parts
            .iter()
            .map(|(name, cents)| FeePart { name: name.clone(), amount: money(*cents) })
            .collect(),
        total: money(sum),
        currency: asked.currency.clone(),
        worked_out: shown(method, &asked.parts, sum),
        ceiling: ceiling.flatten(),
        on_paper: Some(asked.on_paper),
        pages: (asked.pages > 0).then_some(asked.pages),
        media_asked: Some(asked.media_asked),
        mailed: Some(asked.mailed),
        summary_agreed: Some(asked.summary_agreed),
        told_beforehand: Some(asked.told),
    })
}

/// No fee, and why.
pub fn none(why: &str) -> FeeTold {
    FeeTold {
        method: "none".to_string(),
        parts: Vec::new(),
        total: money(0),
        currency: None,
        worked_out: why.to_string(),
        ceiling: None,
        on_paper: None,
        pages: None,
        media_asked: None,
        mailed: None,
        summary_agreed: None,
        told_beforehand: None,
    }
}

fn ceiling(
    table: &FeeTables,
    place: &str,
    asked: &Parts,
    sum: u64,
    wrong: &mut Vec<String>,
) -> Option<String> {
    let Some(prices) = table.places.get(place) else {
        let known: Vec<&str> = table.places.keys().map(String::as_str).collect();
        wrong.push(format!("there are no prices of this place; the tables have {}", known.join(", ")));
        return None;
    };
    let format = if asked.on_paper { CopyFormat::Paper } else { CopyFormat::Digital };
    let cap = prices.ceiling(format, asked.pages)?;
    if sum > cap {
        wrong.push(format!("it is over the ceiling of {place}: {} ({})", money(cap), prices.citation));
    }
    Some(format!("{place}: {} ({})", money(cap), prices.citation))
}

fn problem(problem: &Problem, allowed: &[String]) -> String {
    let names = || allowed.iter().map(|name| name.replace('_', " ")).collect::<Vec<_>>().join(", ");
    match problem {
        Problem::FlatOverLimit => "the flat fee is over its limit".to_string(),
        Problem::FlatNotForThisCopy => "a flat fee is only for an electronic copy".to_string(),
        Problem::PartNotAllowed(name) => {
            format!("{} may not be asked for; what may: {}", name.replace('_', " "), names())
        }
        Problem::MediaNotAsked => "nobody asked for a stick or a disc".to_string(),
        Problem::PostageNotMailed => "postage, but it is not mailed".to_string(),
        Problem::SummaryNotAgreed => "a summary and its fee were not agreed beforehand".to_string(),
        Problem::PerPageOnElectronic => "what is held electronically has no price by the page".to_string(),
        Problem::NotToldInAdvance => "the asker was not told the fee beforehand".to_string(),
    }
}

fn shown(method: Method, parts: &[(String, u64)], sum: u64) -> String {
    match method {
        Method::Flat => format!("flat, all in: {}", money(sum)),
        _ => {
            let terms: Vec<String> = parts
                .iter()
                .map(|(name, cents)| format!("{} {}", name.replace('_', " "), money(*cents)))
                .collect();
            format!("{} = {}", terms.join(" + "), money(sum))
        }
    }
}

fn word(method: Method) -> &'static str {
    match method {
        Method::Actual => "actual",
        Method::Average => "average",
        Method::Flat => "flat",
    }
}

/// Cents as written: 5.25.
pub fn money(cents: u64) -> String {
    format!("{}.{:02}", cents / 100, cents % 100)
}

/// An amount as typed, in cents: `4`, `4.5` and `4.50` are read, nothing finer.
pub fn cents(text: &str) -> Option<u64> {
    let (whole, part) = text.trim().split_once('.').unwrap_or((text.trim(), ""));
    let digits = |text: &str| text.bytes().all(|b| b.is_ascii_digit());
    if whole.is_empty() || whole.len() > 7 || part.len() > 2 || !digits(whole) || !digits(part) {
        return None;
    }
    let part: u64 = format!("{part:0<2}").parse().ok()?;
    Some(whole.parse::<u64>().ok()? * 100 + part)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parts(parts: &[(&str, u64)]) -> Parts {
        Parts {
            method: Some(Method::Actual),
            parts: parts.iter().map(|(name, cents)| ((*name).to_string(), *cents)).collect(),
            flat_cents: 0,
            on_paper: true,
            pages: 10,
            place: None,
            media_asked: false,
            mailed: true,
            summary_agreed: false,
            told: true,
            currency: None,
            free_accounting: false,
        }
    }

    fn out(asked: &Parts) -> Result<FeeTold, Vec<String>> {
        work_out(asked, Tables::shipped().unwrap())
    }

    // 45 CFR 164.524(c)(4); HHS access FAQ 2030.
    #[test]
    fn the_sum_is_shown_as_worked_out() {
        let fee = out(&parts(&[("copying_labor", 400), ("postage", 125)])).unwrap();
        assert_eq!(
            (fee.total.as_str(), fee.worked_out.as_str()),
            ("5.25", "copying labor 4.00 + postage 1.25 = 5.25")
        );
        assert_eq!((fee.method.as_str(), fee.pages), ("actual", Some(10)));
        let mut unpaged = parts(&[("copying_labor", 400)]);
        unpaged.pages = 0;
        assert_eq!(out(&unpaged).unwrap().pages, None);
        let mut flat = parts(&[]);
        (flat.method, flat.flat_cents, flat.on_paper) = (Some(Method::Flat), 650, false);
        let told = out(&flat).unwrap();
        assert_eq!((told.total.as_str(), told.worked_out.as_str()), ("6.50", "flat, all in: 6.50"));
        flat.flat_cents = 651;
        assert_eq!(out(&flat).unwrap_err(), ["the flat fee is over its limit"]);
    }

    #[test]
    fn search_and_retrieval_are_never_asked_for() {
        let wrong = out(&parts(&[("copying_labor", 400), ("search", 1000), ("retrieval", 500)])).unwrap_err();
        assert_eq!(wrong.len(), 2);
        assert!(
            wrong[0].starts_with("retrieval may not be asked for; what may: copying labor, "),
            "{wrong:?}"
        );
        let mut secret = parts(&[("copying_labor", 400)]);
        secret.told = false;
        assert_eq!(out(&secret).unwrap_err(), ["the asker was not told the fee beforehand"]);
    }

    #[test]
    fn the_first_accounting_is_free_and_a_place_has_its_ceiling() {
        let mut accounting = parts(&[("copying_labor", 100)]);
        accounting.free_accounting = true;
        assert!(out(&accounting).unwrap_err()[0].contains("164.528(c)(2)"));
        accounting.parts[0].1 = 0;
        assert_eq!(out(&accounting).unwrap().total, "0.00");
        accounting.method = None;
        assert_eq!(out(&accounting).unwrap().total, "0.00");
        // 22 Tex. Admin. Code 76.3: 25.00 for the first page of paper, 0.25 for each further one.
        let mut texas = parts(&[("copying_labor", 2725)]);
        texas.place = Some("us-tx-76-3".to_string());
        assert!(out(&texas).unwrap().ceiling.unwrap().contains("27.25"));
        texas.parts[0].1 = 2726;
        assert!(out(&texas).unwrap_err()[0].contains("over the ceiling of us-tx-76-3: 27.25"));
    }

    #[test]
    fn amounts_as_typed() {
        for (text, read) in [
            ("4", Some(400)),
            ("4.5", Some(450)),
            ("0.05", Some(5)),
            ("12.50", Some(1250)),
            ("9999999", Some(999_999_900)),
        ] {
            assert_eq!(cents(text), read, "{text}");
        }
        for text in ["", ".5", "4.505", "-1", "4,50", "1e3", "99999999"] {
            assert_eq!(cents(text), None, "{text}");
        }
    }
}
