use super::*;

#[test]
fn reads_nothing_as_everything() {
    assert_eq!(Query::parse([("", ""); 0]).unwrap(), Query::default());
}
