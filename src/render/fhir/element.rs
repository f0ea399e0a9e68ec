//! How a structure of FHIR is declared here: its members in the standard's order, and what is empty
//! left out, because FHIR JSON has no empty members (R4, "JSON representation of resources").

/// True for what is not written: nothing, an empty list, an empty structure.
pub(super) fn is_empty<T: Default + PartialEq>(value: &T) -> bool {
    *value == T::default()
}

/// Declares structures whose members are written in the order given, in the spelling of FHIR, and
/// only where they hold something. A member that must hold `false` is an `Option<bool>`.
macro_rules! elements {
    ($($(#[$meta:meta])* $name:ident { $($field:ident: $ty:ty),+ $(,)? })+) => {$(
        $(#[$meta])*
        #[derive(Debug, Clone, Default, PartialEq, serde::Serialize)]
        #[serde(rename_all = "camelCase")]
        pub(crate) struct $name {
            $(#[serde(skip_serializing_if = "crate::render::fhir::element::is_empty")]
            pub(crate) $field: $ty,)+
        }
    )+};
}
pub(super) use elements;

#[cfg(test)]
mod tests {
    elements! {
        /// For the test.
        Inner { code: String }
        /// For the test.
        Outer { r#type: String, value_code: Option<Inner>, many: Vec<Inner>, no: Option<bool>, inner: Inner }
    }

    #[test]
    fn what_is_empty_is_left_out_and_false_is_not() {
        let outer = Outer { r#type: "x".to_string(), no: Some(false), ..Outer::default() };
        assert_eq!(serde_json::to_string(&outer).unwrap(), r#"{"type":"x","no":false}"#);
    }
}
