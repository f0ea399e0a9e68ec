//! What was destroyed on order in the store is taken out of its copies, and nothing else ever is; keys that were
//! sealed anew travel, and damaged ones don't.

use super::common::{OWNER, Small, add, beside, check, example_data, second_signer};
use super::{desk, practice};
use inkfast::practice::copies::{self, BucketOrder, CopyOrder, bring_bucket};
use inkfast::practice::open::Draft;
use inkfast::record::kinds::Data;
use inkfast::record::kinds::disposing::DisposalState;
use inkfast::record::kinds::register::FileRemoved;
use std::path::{Path, PathBuf};

/// The keys of the first chart of a store.
fn keys(small: &Small, root: &Path) -> Vec<PathBuf> {
    ["desk.age", "clinical.age"].map(|end| root.join(format!("keys/chart-{}-{end}", small.charts[0]))).into()
}

/// A store whose owner has somebody who signs beside them.
fn with_second(charts: usize) -> Small {
    let mut small = Small::new(64 << 10, charts);
    small.let_go();
    second_signer(&small.world, &small.root(), OWNER);
    small.let_go();
    small
}

/// An order to destroy the first chart, by one person or by two; not carried out.
fn ordered(small: &mut Small, by_two: bool) {
    let Data::ChartDisposed(mut order) = example_data("chart-disposed") else { panic!() };
    order.chart = small.charts[0].clone();
    order.state = DisposalState::Ordered;
    order.ordered_by = None;
    let draft = Draft::new(None, Data::ChartDisposed(order), small.practice.now());
    let second = by_two.then(|| beside(&small.practice).unwrap());
    small.practice.append_group(vec![draft], second.as_ref()).unwrap();
}

/// Whoever can add an entry alone, an order in the open or a disposal in the chart, can't have a copy lose what opens it.
#[test]
fn an_order_that_one_person_signed_takes_nothing_out_of_a_copy() {
    let mut small = Small::new(64 << 10, 1);
    let dir = tempfile::tempdir().unwrap();
    let to = dir.path().join("stick");
    let order = CopyOrder { to: &to, drafts: false, resealed: &|_, _| false };
    copies::copy_to_folder(&small.world, &small.practice.place, &order, &mut |_| ()).unwrap();
    ordered(&mut small, false);
    let mine = small.charts[0].clone();
    add(&mut small.practice, Some(&mine), example_data("disposal")).unwrap();
    keys(&small, &small.root()).iter().for_each(|path| std::fs::remove_file(path).unwrap());
    let copied = copies::copy_to_folder(&small.world, &small.practice.place, &order, &mut |_| ()).unwrap();
    assert_eq!((copied.only_here.len(), copied.taken_out.len()), (2, 0), "{:?}", copied.only_here);
    assert!(keys(&small, &to).iter().all(|path| path.exists()));
}

#[test]
fn a_disposed_chart_and_a_removed_paper_leave_the_copy_and_lost_ones_stay() {
    let mut small = with_second(2);
    small.attach(0, "a paper", b"to be destroyed");
    small.attach(1, "another", b"to be lost");
    let dir = tempfile::tempdir().unwrap();
    let to = dir.path().join("stick");
    let order = CopyOrder { to: &to, drafts: false, resealed: &|_, _| false };
    let copy =
        |small: &Small| copies::copy_to_folder(&small.world, &small.practice.place, &order, &mut |_| ());
    assert!(copy(&small).unwrap().is_whole());
    // Lost without an order: the copy is the only place where they still are.
    let lost = keys(&small, &small.root());
    lost.iter().for_each(|path| std::fs::remove_file(path).unwrap());
    let copied = copy(&small).unwrap();
    assert_eq!((copied.only_here.len(), copied.taken_out.len()), (2, 0), "{:?}", copied.only_here);
    assert!(keys(&small, &to).iter().all(|path| path.exists()));
    // Destroyed on order: an order of two people, and a sealed file removed.
    let (mine, other) = (small.charts[0].clone(), small.charts[1].clone());
    for (path, back) in keys(&small, &small.root()).iter().zip(keys(&small, &to)) {
        std::fs::copy(back, path).unwrap();
    }
    let paper = |small: &Small, tag: &str| {
        let entries = small.practice.chart(tag).unwrap();
        let found = entries.iter().find_map(|entry| match entry.data() {
            Some(Data::Attachment(paper)) => Some(paper.sealed_digest.clone()),
            _ => None,
        });
        found.unwrap()
    };
    let (gone, kept) = (paper(&small, &mine), paper(&small, &other));
    ordered(&mut small, true);
    let removed = FileRemoved { sealed_digest: gone.clone(), ordered_by: None };
    add(&mut small.practice, None, removed.into()).unwrap();
    let at = |root: &Path, digest: &str| root.join(format!("files/{}/{digest}.age", &digest[..2]));
    std::fs::remove_file(at(&small.root(), &gone)).unwrap();
    keys(&small, &small.root()).iter().for_each(|path| std::fs::remove_file(path).unwrap());
    let copied = copy(&small).unwrap();
    assert!(copied.is_whole(), "{:?}", copied.report.findings);
    assert_eq!((copied.only_here.len(), copied.taken_out.len()), (0, 3), "{:?}", copied.taken_out);
    assert!(keys(&small, &to).iter().all(|path| !path.exists()) && !at(&to, &gone).exists());
    assert!(at(&to, &kept).exists() && check(&small.root()).sound);
}

#[test]
fn what_was_destroyed_is_on_no_list_of_a_store_of_objects_any_more() {
    let mut small = with_second(1);
    let objects = super::bucket::Kept::default();
    let copy = |small: &Small| {
        let order =
            BucketOrder { objects: &objects, drafts: false, locked_until: None, resealed: &|_, _| false };
        copies::copy_to_bucket(&small.world, &small.practice.place, &order, &mut |_| ()).unwrap()
    };
    copy(&small);
    let mine = small.charts[0].clone();
    ordered(&mut small, true);
    keys(&small, &small.root()).iter().for_each(|path| std::fs::remove_file(path).unwrap());
    assert_eq!(copy(&small).taken_out.len(), 2);
    let dir = tempfile::tempdir().unwrap();
    bring_bucket(&*small.world.disk, &objects, None, dir.path(), &mut |_| ()).unwrap();
    assert!(keys(&small, dir.path()).iter().all(|path| !path.exists()));
    assert!(dir.path().join(format!("keys/chart-{mine}.note")).exists());
}

#[test]
fn keys_that_were_sealed_anew_for_a_colleague_travel_with_somebody_unlocked() {
    let desk = practice();
    desk.ok(&["safecopy", "stick", "--called", "blue stick"]);
    desk.secret("pw-new", "seven rope walks east\n");
    #[rustfmt::skip]
    desk.ok(&[
        "roster", "add", "--new-passphrase-file", "pw-new", "--code", "OD", "--name", "Odile Danforth", "--role", "desk",
        "--opens", "desk", "--initials", "OD",
    ]);
    let refused =
        desk.refused(7, &["safecopy", "stick", "--unrecorded"], "can't be told here that it was sealed anew");
    assert!(refused.contains("with somebody unlocked"), "{refused}");
    let copied = desk.json(&["safecopy", "stick"]);
    assert_eq!(copied["sound"], true);
    assert!(copied["keys"].as_u64().unwrap() >= 2, "{copied}");
    let (mine, theirs) =
        (super::snapshot(&desk.path("store/keys")), super::snapshot(&desk.path("stick/keys")));
    assert!(mine == theirs);
    // And the colleague's own key opens the copy, restored.
    desk.ok(&["restore", "stick", "new", "--outside", "outside-of-new"]);
    let output = desk.run(&[
        "patient",
        "list",
        "--store",
        "new",
        "--outside",
        "outside-of-new",
        "--as",
        "OD",
        "--passphrase-file",
        "pw-new",
    ]);
    assert_eq!(desk::code(&output), 0, "{}", desk::text(&output));
}
