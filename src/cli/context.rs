//! What every command needs: the store it is about, who is here, and where answers and results go.

use super::clock::Now;
use super::exit::Exit;
use super::keeper::{self, Held, PinAnswer};
use super::prompt::Asker;
use super::secret::{
    PASSPHRASE, PIN, Purpose, SecretError, SecretFlags, add_pin_args, add_secret_args, has_secret_flag,
    read_secret,
};
use crate::practice::copies;
use crate::practice::disposal::standing::{unfinished, unfinished_words};
use crate::practice::open::Practice;
use crate::practice::place::Place;
use crate::practice::renewal::{UNFINISHED, unfinished as keys_unfinished};
use crate::practice::session::Session;
use crate::practice::staff::is_custodian;
use crate::seal::age_file::Identity;
use crate::seal::file_keys::FileKeys;
use crate::seal::identity::StaffIdentity;
use crate::seal::sheet::read_typed;
use crate::trouble::{Kind, Outcome, Trouble};
use crate::world::{World, is_there};
use clap::{Arg, ArgAction, ArgMatches, Command};
use serde::Serialize;
use std::cell::RefCell;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::rc::Rc;
use std::sync::Arc;

/// One run of one command.
pub struct Context<'a> {
    /// What was typed.
    pub matches: &'a ArgMatches,
    /// The seams.
    pub world: World,
    /// The person at the terminal, if any.
    pub asker: &'a mut dyn Asker,
    /// Where results go.
    pub out: &'a mut dyn Write,
    /// The keys of files that the keeper's identity opened, to be given back to it at the end.
    pub opened: Opened,
}

/// For which store, with whose identity, and what was found.
pub type Opened = Rc<RefCell<Option<(Place, String, Arc<FileKeys>)>>>;

/// Adds the options that every command understands.
pub fn add_global_args(cmd: Command) -> Command {
    cmd.arg(
        Arg::new("store")
            .long("store")
            .value_name("FOLDER")
            .global(true)
            .env("INKFAST_STORE")
            .value_parser(clap::value_parser!(PathBuf))
            .help("Folder of the store [default: the current folder, else ./inkfast-store]"),
    )
    .arg(
        Arg::new("outside")
            .long("outside")
            .value_name("FOLDER")
            .global(true)
            .env("INKFAST_OUTSIDE")
            .value_parser(clap::value_parser!(PathBuf))
            .help("Folder outside the store that keeps the newest checkpoint"),
    )
    .arg(
        Arg::new("json")
            .long("json")
            .global(true)
            .action(ArgAction::SetTrue)
            .help("Results as JSON, for scripts"),
    )
}

/// Adds the options of commands that open the store as somebody.
pub fn add_who_args(cmd: Command) -> Command {
    let cmd = cmd
        .arg(
            Arg::new("as")
                .long("as")
                .value_name("CODE")
                .env("INKFAST_AS")
                .help("Staff code of who is here (not needed after `inkfast unlock`)"),
        )
        .arg(
            Arg::new("station")
                .long("station")
                .value_name("PLACE")
                .env("INKFAST_STATION")
                .help("Where this is: desk, room 1, laptop [default: desk]"),
        );
    add_pin_args(add_secret_args(cmd, PASSPHRASE))
}

impl Context<'_> {
    /// The same run for a sub-word: its own options, everything else alike.
    pub fn under<'b>(&'b mut self, matches: &'b ArgMatches) -> Context<'b> {
        Context {
            matches,
            world: self.world.clone(),
            asker: self.asker,
            out: self.out,
            opened: self.opened.clone(),
        }
    }

    /// An optional text option.
    pub fn text(&self, name: &str) -> Option<String> {
        self.matches.try_get_one::<String>(name).ok().flatten().cloned()
    }

    /// An optional path option.
    pub fn path(&self, name: &str) -> Option<PathBuf> {
        self.matches.try_get_one::<PathBuf>(name).ok().flatten().cloned()
    }

    /// True when the flag was given.
    pub fn flag(&self, name: &str) -> bool {
        self.matches.try_get_one::<bool>(name).ok().flatten().copied().unwrap_or(false)
    }

    /// A whole-number option.
    pub fn number(&self, name: &str) -> Option<u64> {
        self.matches.try_get_one::<u64>(name).ok().flatten().copied()
    }

    /// True when results are wanted as JSON.
    pub fn json(&self) -> bool {
        self.flag("json")
    }

    /// Now, in the computer's time zone.
    pub fn now(&self) -> Now {
        Now::in_zone(self.world.clock.now(), jiff::tz::TimeZone::system())
    }

    /// The folder of the store.
    pub fn root(&self) -> PathBuf {
        self.path("store").unwrap_or_else(|| {
            let here = PathBuf::from(".");
            if here.join("store.json").is_file() { here } else { PathBuf::from("inkfast-store") }
        })
    }

    /// The place of a store to work in: no safe copy, and nothing half restored.
    pub fn place(&self) -> Outcome<Place> {
        let (disk, root) = (&*self.world.disk, self.root());
        for name in [copies::FILE, copies::UNFINISHED] {
            let path = root.join(name);
            if is_there(disk, &path)? {
                return Err(not_to_work_in(&root));
            }
        }
        let place = Place::open(&self.world, &root, self.path("outside").as_deref())?;
        copies::settle_slip(&self.world, &place)?;
        Ok(place)
    }

    /// Writes a result line.
    pub fn say(&mut self, text: &str) -> Outcome<()> {
        match writeln!(self.out, "{text}") {
            // Whoever read the result has seen enough (`inkfast print CHART | head`).
            Err(e) if e.kind() == std::io::ErrorKind::BrokenPipe => Ok(()),
            Err(e) => Err(Trouble::new(
                Kind::Disk,
                format!("Could not show the result: {e}."),
                "The work itself was done.",
                "Look at it again with `inkfast print`.",
            )),
            Ok(()) => Ok(()),
        }
    }

    /// Writes a result as JSON.
    pub fn say_json<T: Serialize>(&mut self, value: &T) -> Outcome<()> {
        let text = serde_json::to_string_pretty(value)
            .map_err(|e| Trouble::input(e.to_string(), "Tell the makers."))?;
        self.say(&text)
    }

    /// Opens the store as whoever is here: the unlocked person, or the one named with --as.
    pub fn practice(&mut self) -> Outcome<Practice> {
        let place = self.place()?;
        let session = self.session(&place)?;
        let practice = Practice::open(&self.world, &place, session, &self.station())?;
        lock_for_leaver(&practice);
        self.say_unfinished(&practice)?;
        Ok(practice)
    }

    /// Opens the store for writing at once, so that what is read is what is written after.
    pub fn writing(&mut self) -> Outcome<Practice> {
        let place = self.place()?;
        let session = self.session(&place)?;
        self.writing_as(&place, session)
    }

    /// Opens the store for adding to it; at a desk that is locked for reading too, without reading.
    pub fn adding(&mut self) -> Outcome<Practice> {
        let place = self.place()?;
        let session = match self.kept(&place) {
            Some(Held::Adding(kit)) => kit.session(&place)?,
            kept => self.session_of(&place, kept)?,
        };
        self.writing_as(&place, session)
    }

    fn writing_as(&mut self, place: &Place, session: Session) -> Outcome<Practice> {
        let mut practice = Practice::open_writing(&self.world, place, session, &self.station())?;
        lock_for_leaver(&practice);
        practice.session.vouch()?;
        self.remarks(&mut practice);
        self.say_unfinished(&practice)?;
        Ok(practice)
    }

    /// Tells the keeper of the records, who alone can finish it, that new keys are half made; and everybody that a
    /// chart's destruction was cut off, until it is finished.
    fn say_unfinished(&mut self, practice: &Practice) -> Outcome<()> {
        if is_custodian(practice) && keys_unfinished(practice) {
            self.asker.say(&format!("Note: {UNFINISHED}"));
        }
        for one in unfinished(practice)? {
            self.asker.say(&unfinished_words(&one));
        }
        Ok(())
    }

    /// The identity on the recovery sheet: its line from a file, or typed unseen.
    ///
    /// # Errors
    /// When nobody can be asked, or what was typed is no line of a sheet.
    pub fn recovery_sheet(&mut self, flags: SecretFlags) -> Outcome<Identity> {
        let prompt = "The line on the recovery sheet, with or without its spaces";
        let typed =
            read_secret(self.matches, flags, prompt, Purpose::Open, self.asker).map_err(secret_trouble)?;
        read_typed(&typed).ok_or_else(|| {
            Trouble::input(
                "This is no line of a recovery sheet: it was mistyped, or is another paper.",
                "Compare it with the sheet, group by group. A mistyped letter is always noticed.",
            )
        })
    }

    fn station(&self) -> String {
        self.text("station").unwrap_or_else(|| "desk".to_string())
    }

    /// Tells what opening or committing had to remark.
    pub fn remarks(&mut self, practice: &mut Practice) {
        for remark in practice.take_remarks() {
            self.asker.say(&remark_words(&remark));
        }
    }

    /// Unlocks: through the keeper if it holds somebody, else by passphrase.
    pub fn session(&mut self, place: &Place) -> Outcome<Session> {
        let kept = self.kept(place);
        self.session_of(place, kept)
    }

    /// What the keeper holds for whoever is named, unless a passphrase comes with the command.
    fn kept(&self, place: &Place) -> Option<Held> {
        if has_secret_flag(self.matches, PASSPHRASE) {
            return None;
        }
        let named = self.text("as");
        keeper::held(place).filter(|held| named.as_ref().is_none_or(|code| code == held.code()))
    }

    fn session_of(&mut self, place: &Place, kept: Option<Held>) -> Outcome<Session> {
        match kept {
            Some(Held::Open(kept)) => {
                let keeper::Opened { me, asks_pin, file_keys } = *kept;
                let file_keys = Arc::new(file_keys);
                *self.opened.borrow_mut() = Some((place.clone(), me.code.clone(), file_keys.clone()));
                let mut session = Session::remembering(&self.world, place, me, file_keys)?;
                session.asks_pin = asks_pin;
                return Ok(session);
            }
            Some(Held::Adding(_)) => return Err(only_adds()),
            None => {}
        }
        let code = match self.text("as") {
            Some(code) => code,
            None => self.ask_code()?,
        };
        let secret = self.secret(&format!("Passphrase of {code}"))?;
        Session::unlock(&self.world, place, &code, &secret)
    }

    /// Gives back to the keeper what was found with the identity it holds.
    pub fn give_back(&self) {
        if let Some((place, code, found)) = self.opened.take() {
            keeper::remember(&place, &code, &found);
        }
    }

    /// A staff identity opened by passphrase, for unlocking or a second signature.
    pub fn identity(&mut self, place: &Place, code: &str) -> Outcome<StaffIdentity> {
        let secret = self.secret(&format!("Passphrase of {code}"))?;
        Session::unlock(&self.world, place, code, &secret).map(|s| s.me)
    }

    fn ask_code(&mut self) -> Outcome<String> {
        let locked = || {
            Trouble::new(
                Kind::Locked,
                "Nobody is unlocked here, and no staff code was given.",
                "Nothing was changed.",
                "Run `inkfast unlock --as CODE` first, or give --as CODE with --passphrase-file.",
            )
        };
        if !self.asker.interactive() {
            return Err(locked());
        }
        let typed = self.asker.line("Who is here? Staff code: ").map_err(|_| locked())?;
        typed.map(|t| t.trim().to_string()).filter(|t| !t.is_empty()).ok_or_else(locked)
    }

    /// Asks the short number again before something is signed, unless the passphrase was just given or no
    /// number was set. The keeper compares it.
    pub fn confirm_pin(&mut self, practice: &Practice) -> Outcome<()> {
        if !practice.session.asks_pin {
            return Ok(());
        }
        let given = has_secret_flag(self.matches, PIN);
        if !given && !self.asker.can_ask_secret() {
            return Err(no_pin());
        }
        loop {
            let prompt = format!("Short number of {}, to sign", practice.session.me.code);
            let number =
                read_secret(self.matches, PIN, &prompt, Purpose::Open, self.asker).map_err(secret_trouble)?;
            match keeper::try_pin(&practice.place, &number) {
                PinAnswer::Right => return Ok(()),
                PinAnswer::Wrong(left) if !given => {
                    self.asker.say(&format!("That is not the short number. Tries left: {left}."));
                }
                PinAnswer::Wrong(left) => return Err(wrong_pin(left)),
                PinAnswer::Locked => return Err(pin_locked()),
            }
        }
    }

    /// Reads a passphrase to open something.
    pub fn secret(&mut self, prompt: &str) -> Outcome<zeroize::Zeroizing<String>> {
        read_secret(self.matches, PASSPHRASE, prompt, Purpose::Open, self.asker).map_err(secret_trouble)
    }

    /// Asks a yes-or-no question; `default` where nobody can be asked.
    pub fn yes(&mut self, question: &str, default: bool) -> Outcome<bool> {
        if !self.asker.interactive() {
            return Ok(default);
        }
        let hint = if default { "yes" } else { "no" };
        loop {
            let typed = self.asker.line(&format!("{question} [{hint}] ")).unwrap_or(None);
            let Some(typed) = typed else {
                return Err(Trouble::input("The question was not answered.", "Run the command again."));
            };
            match typed.trim().to_ascii_lowercase().as_str() {
                "" => return Ok(default),
                "y" | "yes" => return Ok(true),
                "n" | "no" => return Ok(false),
                _ => self.asker.say("Please answer yes or no."),
            }
        }
    }
}

/// Whoever left the roster is unlocked nowhere any more.
fn lock_for_leaver(practice: &Practice) {
    if practice.has_left() {
        keeper::lock_for(&practice.place, &practice.session.me.code);
    }
}

fn not_to_work_in(root: &Path) -> Trouble {
    Trouble::new(
        Kind::Refused,
        format!("{} is a safe copy, or was not restored to the end: nobody works in it.", root.display()),
        "Nothing was shown or changed.",
        "Name the store with --store. To go on from a copy, `inkfast restore` it into a new folder; `inkfast verify` \
         checks it where it is.",
    )
}

fn only_adds() -> Trouble {
    Trouble::new(
        Kind::Locked,
        "This desk is locked for reading; it only adds.",
        "Nothing was shown or changed.",
        "Run `inkfast unlock --as CODE` to read again. What still works: contact, asked, pause, withdraw, visit \
         emergency, attach.",
    )
}

fn no_pin() -> Trouble {
    Trouble::new(
        Kind::Locked,
        "The short number is needed to sign this, and nobody is there to ask.",
        "Nothing was signed.",
        format!("Run it at a terminal, or give --{} FILE or --{} NUMBER.", PIN.file, PIN.fd),
    )
}

fn wrong_pin(left: u32) -> Trouble {
    Trouble::new(
        Kind::Locked,
        format!("That is not the short number. Tries left: {left}."),
        "Nothing was signed.",
        "Give the right one. After the last wrong try the desk locks itself.",
    )
}

fn pin_locked() -> Trouble {
    Trouble::new(
        Kind::Locked,
        "The desk has locked itself: the short number was wrong too often, or the idle time was over.",
        "Nothing was signed. What was typed at a terminal is kept as a sealed draft.",
        "Unlock it with the passphrase: `inkfast unlock --as CODE`.",
    )
}

/// A passphrase that could not be read, as a trouble.
pub fn secret_trouble(error: SecretError) -> Trouble {
    Trouble::new(Kind::Locked, error.to_string(), "Nothing was changed.", "Give the passphrase again.")
}

fn remark_words(remark: &crate::ledger::write::Remark) -> String {
    use crate::ledger::write::Remark;
    match remark {
        Remark::SetAside { file, entries } => format!(
            "Note: an interrupted write was found ({entries} whole entries, never confirmed to anybody). It was moved to {}.",
            file.display()
        ),
        Remark::OutsideMissing => {
            "Note: no checkpoint was kept outside the store for this ledger; it begins now.".to_string()
        }
        Remark::OutsideUnreadable => {
            "Note: the checkpoint kept outside could not be read; it begins anew.".to_string()
        }
        Remark::OutsideNotReplaced(trouble) => format!(
            "Note: the entry is kept, but the checkpoint outside the store could not be replaced: {}",
            trouble.what
        ),
    }
}

/// The exit code of a trouble.
pub fn exit_of(trouble: &Trouble) -> Exit {
    Exit::of(trouble)
}
