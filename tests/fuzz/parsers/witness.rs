//! What a witness answers: one byte for the status, then the answer.

use inkfast::ledger::witness::{Answer, read};
use inkfast::seal::note::{Cosigner, Note, Vkey};

/// The example of C2SP tlog-cosignature and a key over it (see the tests of cosignatures).
const NOTE: &str = "example.com/behind-the-sofa\n20852163\nCsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I=\n\n\
    \u{2014} example.com/behind-the-sofa Az3grlgtzPICa5OS8npVmf1Myq/5IZniMp+ZJurmRDeOoRDe4URYN7u5/Zhcyv2q1gGzGku9nTo+zyWE+xeMcTOAYQ8=\n";
const KEY: &str = "witness.example.com/w1+4bdc7eaa+BP0XJDhaoMdbZPt4zWAvodmR/ev3axPFjtcC6sg16fYY";

/// Tries one input.
pub fn try_one(data: &[u8]) {
    let Some((status, body)) = data.split_first() else { return };
    let sent = Note::parse(NOTE.as_bytes()).unwrap();
    let key = Cosigner::try_from(&Vkey::parse(KEY).unwrap()).unwrap();
    let status = [200, 409, 403, 500][usize::from(*status) % 4];
    if let Answer::Signed(_, time) = read(status, body, 3, &sent, &key) {
        // Nobody here holds that key: the one line there is stands in the tests.
        assert_eq!(time, 1_679_315_147);
    }
}
