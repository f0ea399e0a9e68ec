//! Adding entries: prepared, checked, sealed to whoever may read them, and signed by who is here.

use super::{Draft, Ledger, Practice};
use crate::ledger::write::{NewEntry, Receipt};
use crate::record::envelope::{Meaning, Person, Record, Reference, Signature};
use crate::record::kinds::register::KeyRole;
use crate::record::kinds::{Class, Data, Level, Problem, class_of, info};
use crate::record::moment::Moment;
use crate::seal::age_file::{self, Recipient, To};
use crate::seal::body::Body;
use crate::seal::identity::StaffIdentity;
use crate::seal::keybook::KeyBook;
use crate::trouble::{Kind, Outcome, Trouble};
use zeroize::Zeroizing;

impl Practice {
    /// Records one thing as the person who is here.
    pub fn append(&mut self, draft: Draft) -> Outcome<Receipt> {
        self.append_group(vec![draft], None)?.pop().ok_or_else(|| Trouble::damaged("Nothing was recorded."))
    }

    /// Records several things together, all or none, with a second signer where a rule asks for one.
    pub fn append_group(
        &mut self,
        drafts: Vec<Draft>,
        second: Option<&StaffIdentity>,
    ) -> Outcome<Vec<Receipt>> {
        self.begin_writing()?;
        self.refresh()?;
        let written = self.now();
        let mut prepared = Vec::with_capacity(drafts.len());
        // Keys listed in this very group already seal what follows them in it.
        let mut book = self.keys.clone();
        for draft in drafts {
            if let Data::Keys(keys) = &draft.data {
                book.take(keys);
            }
            prepared.push(self.prepare(draft, written, second, &book)?);
        }
        let Practice { session, ledger, .. } = self;
        let mut signers = vec![&session.me.signer];
        signers.extend(second.map(|s| &s.signer));
        let entries = prepared
            .into_iter()
            .map(|p| NewEntry {
                chart: p.chart,
                kind: p.kind,
                written,
                signers: signers.clone(),
                body: p.body,
                commit: p.commit,
            })
            .collect();
        let vouch = session.vouch()?;
        let Ledger::Writing(writer) = ledger else {
            return Err(Trouble::damaged("The ledger is not open for writing."));
        };
        let receipts = writer.commit(entries, vouch)?;
        // What is durable is acknowledged, even if reading it again fails; the next append reads it first.
        let _ = self.refresh();
        Ok(receipts)
    }

    fn prepare(
        &self,
        draft: Draft,
        written: Moment,
        second: Option<&StaffIdentity>,
        book: &KeyBook,
    ) -> Outcome<Prepared> {
        let record = self.record(draft, written, second)?;
        let data = Data::read(&record.kind, record.edition, &record.data).map_err(|e| {
            Trouble::input(format!("This can't be recorded: {e}."), "Correct it and do it again.")
        })?;
        refuse(&data.validate(&record))?;
        self.refuse_impossible(&record)?;
        let bytes = Zeroizing::new(
            record.to_bytes().map_err(|e| Trouble::input(e.to_string(), "Correct it and do it again."))?,
        );
        let opening = self
            .world
            .random32()
            .map_err(|e| Trouble::disk("get random numbers for", &self.place.root, &e))?;
        let body = Body { opening, record: bytes };
        let plain = body.to_bytes();
        let stored = match self.recipients(&record, book)? {
            None => plain.to_vec(),
            Some(to) => age_file::seal(&To::Recipients(&to), &plain)
                .map_err(|e| Trouble::disk("seal an entry for", &self.place.root, &e))?,
        };
        Ok(Prepared { chart: record.chart, kind: record.kind, body: stored, commit: body.commitment() })
    }

    /// Refuses values that can't be by the limits of the adopted rules. A rules document that can't be used
    /// stops nothing here: what was done must be recordable, and the rules say so where they are asked.
    fn refuse_impossible(&self, record: &Record) -> Outcome<()> {
        if !["visit", "measure"].contains(&record.kind.as_str()) {
            return Ok(());
        }
        let Ok(book) = self.rulebook() else { return Ok(()) };
        let found = crate::record::measured::impossible(&record.data, &book.tables.trade);
        let Some((place, why)) = found.first() else { return Ok(()) };
        Err(Trouble::input(
            format!("A value can't be taken at {place}: {why}."),
            "Read it again, and type it again. What the limits are is for the practice's rules to say.",
        ))
    }

    fn record(&self, draft: Draft, written: Moment, second: Option<&StaffIdentity>) -> Outcome<Record> {
        let draft = crate::practice::labels::complete(self, draft)?;
        // What is never sealed names people by their code alone.
        let open = info(draft.data.kind()).is_some_and(|row| row.class == Class::Open);
        let named = |person: Person| match open {
            true => Person { name: person.code.clone(), role: "staff".to_string(), ..person },
            false => person,
        };
        let me = named(self.me());
        let mut labels = crate::practice::labels::labels(self, &draft, written)?;
        if let Some(kit) = self.session.kit() {
            let holds = match &draft.chart {
                Some(tag) => crate::practice::adding::of_kind(self, tag, "hold")?,
                None => Vec::new(),
            };
            let holds: Vec<u64> = holds.iter().map(|at| at.seq).collect();
            kit.relabel(draft.chart.as_deref(), &holds, &mut labels);
        }
        labels.extend(draft.labels);
        labels.sort();
        labels.dedup();
        let sign = |person: &Person, meaning| Signature {
            by: person.code.clone(),
            name: person.name.clone(),
            role: person.role.clone(),
            at: written,
            meaning,
        };
        let refers = draft
            .refers
            .iter()
            .map(|(seq, why)| {
                let digest = self.leaf_of(&self.at_seq(*seq)?)?.1;
                Ok(Reference { seq: *seq, leaf: digest, why: why.clone() })
            })
            .collect::<Outcome<Vec<_>>>()?;
        Ok(Record {
            kind: draft.data.kind().to_string(),
            edition: draft.data.edition(),
            ledger: self.place.key.name().to_string(),
            chart: draft.chart,
            happened: draft.happened,
            written,
            station: if open { "-".to_string() } else { self.station.clone() },
            signed: sign(&me, Meaning::Wrote),
            author: me,
            entered_by: draft.entered_by.as_deref().map(|code| named(self.person(code))),
            second: second.map(|s| sign(&named(self.person(&s.code)), Meaning::Checked)),
            labels,
            refers,
            data: draft
                .data
                .to_value()
                .map_err(|e| Trouble::input(e.to_string(), "Correct it and do it again."))?,
        })
    }

    /// Whom a record is sealed to; none for what stays open.
    fn recipients(&self, record: &Record, book: &KeyBook) -> Outcome<Option<Vec<Recipient>>> {
        let missing = || Trouble::damaged("The ledger lists no recipient for a role.");
        Ok(match (&record.chart, class_of(record)) {
            (_, Class::Open) => None,
            (Some(tag), class) => {
                let (desk, clinical) = self.session.chart_recipients(&self.world, &self.place, book, tag)?;
                Some(vec![if class == Class::Desk { desk } else { clinical }])
            }
            // What lies outside every chart and is no who-and-when: the office file.
            (None, Class::Clinical) => Some(vec![book.role(KeyRole::Clinical).ok_or_else(missing)?]),
            (None, _) => Some(vec![
                book.role(KeyRole::Desk).ok_or_else(missing)?,
                book.role(KeyRole::Clinical).ok_or_else(missing)?,
            ]),
        })
    }
}

struct Prepared {
    chart: Option<String>,
    kind: String,
    body: Vec<u8>,
    commit: [u8; 32],
}

/// Refuses a record with impossible contents, with every reason at once.
fn refuse(problems: &[Problem]) -> Outcome<()> {
    let refused: Vec<_> =
        problems.iter().filter(|p| p.level == Level::Refuse).map(|p| format!("- {}", p.text)).collect();
    if refused.is_empty() {
        return Ok(());
    }
    Err(Trouble::new(
        Kind::BadInput,
        format!("This can't be recorded as it stands:\n{}", refused.join("\n")),
        "Nothing was written. What you typed is kept as a draft where the command keeps drafts.",
        "Correct these points and do it again.",
    ))
}
