//! Where a safe copy is: a folder, or a store of objects (`s3://BUCKET/PREFIX`), with the options for the latter.

use super::restore::refuse_inside;
use crate::cli::context::Context;
use crate::practice::copies::{self, bring_bucket, bring_folder};
use crate::practice::objects::{Address, S3, Way};
use crate::practice::place::Place;
use crate::record::kinds::copies::CopyOn;
use crate::trouble::Outcome;
use clap::{Arg, Command};
use std::path::{Path, PathBuf};

/// Where a copy is.
pub enum Spot {
    /// In a folder.
    Folder(PathBuf),
    /// In a store of objects.
    Objects(Box<S3>),
}

/// Adds the options for a store of objects.
pub fn add_objects_args(cmd: Command) -> Command {
    let text = |name: &'static str, value: &'static str, help: &'static str| {
        Arg::new(name).long(name).value_name(value).help(help)
    };
    cmd.arg(text(
        "endpoint",
        "URL",
        "Address of the store of objects [default: AWS_ENDPOINT_URL, else the region's]",
    ))
    .arg(text("region", "REGION", "Its region [default: AWS_REGION, else us-east-1]"))
    .arg(
        Arg::new("credentials")
            .long("credentials")
            .value_name("FILE")
            .value_parser(clap::value_parser!(PathBuf))
            .help("File with two lines, key and secret [default: AWS_ACCESS_KEY_ID, AWS_SECRET_ACCESS_KEY]"),
    )
}

/// Adds the option that tells the copies of several ledgers apart.
pub fn ledger_arg() -> Arg {
    Arg::new("ledger")
        .long("ledger")
        .value_name("LABEL")
        .help("With s3://: whose copy, where the prefix holds those of several ledgers")
}

impl Spot {
    /// Reads where a copy is to be, or is, from the argument of this name. Nothing is sent yet.
    ///
    /// # Errors
    /// When the address can't be used, or there are no credentials for it.
    pub fn of(context: &Context<'_>, name: &str) -> Outcome<Option<Spot>> {
        let Some(path) = context.path(name) else { return Ok(None) };
        let Some(address) = path.to_str().and_then(Address::read) else {
            return Ok(Some(Spot::Folder(path)));
        };
        let (endpoint, region) = (context.text("endpoint"), context.text("region"));
        let file = context.path("credentials");
        let way =
            Way { endpoint: endpoint.as_deref(), region: region.as_deref(), credentials: file.as_deref() };
        S3::new(&address, &way).map(|s3| Some(Spot::Objects(Box::new(s3))))
    }

    /// On what a copy lies there.
    pub fn on(&self) -> CopyOn {
        match self {
            Spot::Folder(_) => CopyOn::Folder,
            Spot::Objects(_) => CopyOn::Objects,
        }
    }

    /// Label of the copy of this store that is there; none where there is none yet.
    ///
    /// # Errors
    /// When it can't be read.
    pub fn label(&self, context: &Context<'_>, place: &Place) -> Outcome<Option<String>> {
        match self {
            Spot::Folder(to) => Ok(copies::read(&*context.world.disk, to)?.map(|mark| mark.label)),
            Spot::Objects(objects) => copies::label_in_bucket(&**objects, place.key.name()),
        }
    }

    /// Makes sure that there may be a copy to bring into a folder.
    ///
    /// # Errors
    /// When a folder holds none, or holds the other folder.
    pub fn check(&self, into: &Path) -> Outcome<()> {
        match self {
            Spot::Folder(from) => refuse_inside(from, into),
            Spot::Objects(_) => Ok(()),
        }
    }

    /// Brings the copy into a folder.
    ///
    /// # Errors
    /// When it can't be read, is not whole, or the disk fails.
    pub fn bring(&self, context: &Context<'_>, into: &Path, progress: &mut dyn FnMut(u64)) -> Outcome<()> {
        let disk = &*context.world.disk;
        match self {
            Spot::Folder(from) => bring_folder(disk, from, into, progress),
            Spot::Objects(objects) => {
                bring_bucket(disk, &**objects, context.text("ledger").as_deref(), into, progress)
            }
        }
    }
}
