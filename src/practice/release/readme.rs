//! READ-ME-FIRST.txt: how to read the package and how to check it.

use super::order::ReleaseOrder;
use crate::practice::chart::ChartFace;
use crate::practice::open::Practice;

pub(super) fn read_me(practice: &Practice, face: &ChartFace, order: &ReleaseOrder) -> String {
    let by = practice.me();
    format!(
        "READ ME FIRST\n\
         =============\n\n\
         This package holds the chart {chart} of one patient, as released to:\n  {to}\n\
         Released on {when} by {name} ({role}), basis: {basis}.\n\n\
         To read it\n\
         ----------\n\
         Open record.html in any web browser, or print it. Nothing in it needs the internet.\n\
         attachments/ holds the papers and pictures of the chart; record.html says which is which.\n\
         entries/ holds each entry as it was sealed: NNNNNN.record.json is the entry itself.\n\n\
         To check it\n\
         -----------\n\
         Every entry was signed when it was made and sealed to the one before it. Anybody can check that\n\
         nothing in this copy was changed, moved or left out up to the day of its release:\n\
         1. with the program:  inkfast verify THIS-FOLDER\n\
         2. without it: schema/FORMAT.md of the program, section 8, says every step. The formats are\n\
            open ones: age (sealing), Ed25519 signed notes, SHA-256 trees as in RFC 6962, BLAKE3.\n\
            manifest.json lists every file with its digests; manifest.note is signed by the practice.\n\n\
         What the check does not prove\n\
         -----------------------------\n\
         It does not prove that what was written is true, that the practice's clock was right, or that nothing\n\
         was left unwritten. Compare with anything you were given earlier (slips, receipts, other copies).\n\n\
         Where contents were withheld, the entry's place is still here and still counted, with the reason.\n\
         Questions about this record go to the practice named in it.\n",
        chart = face.chart_no,
        to = order.data.to,
        when = order.happened.plain(),
        name = by.name,
        role = by.role,
        basis = order.data.basis,
    )
}
