//! Records and the bodies they lie in.

use inkfast::record::envelope::Record;
use inkfast::seal::body::Body;

/// Tries one input.
pub fn try_one(bytes: &[u8]) {
    if let Ok(record) = Record::from_bytes(bytes) {
        let _ = record.read_data();
        let written = record.to_bytes().unwrap();
        assert_eq!(Record::from_bytes(&written).unwrap().to_bytes().unwrap(), written);
    }
    if let Some(body) = Body::from_bytes(bytes) {
        assert_eq!(&*body.to_bytes(), bytes);
    }
}
