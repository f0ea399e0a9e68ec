//! `desk`: the page on this computer, for the room and the desk.

use crate::cli::context::Context;
use crate::cli::exit::Exit;
use crate::desk::{Order, serve};
use crate::trouble::Outcome;
use clap::{Arg, Command};

/// Options of `desk`.
pub fn command() -> Command {
    Command::new("desk")
        .about("Serve the page for the room and the desk, to browsers on this computer only")
        .arg(
            Arg::new("port")
                .long("port")
                .value_name("NUMBER")
                .value_parser(clap::value_parser!(u16))
                .default_value("8417")
                .help("Port on this computer's own address 127.0.0.1; 0 takes any that is free"),
        )
        .arg(
            Arg::new("station")
                .long("station")
                .value_name("PLACE")
                .env("INKFAST_STATION")
                .default_value("desk")
                .help("Where this is: desk, room 1, laptop"),
        )
        .after_help(
            "It prints a link that opens the page in one browser, once; press Enter in this window for another \
             link. The page is unlocked with the passphrase and locks itself after the idle minutes, with \
             `inkfast lock`, and when the computer sleeps. Other commands work beside it. Ctrl-C ends it.",
        )
}

/// Serves until it is told to end.
pub fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let place = context.place()?;
    let order = Order {
        root: place.root.clone(),
        outside: place.outside.clone(),
        port: context.matches.get_one::<u16>("port").copied().unwrap_or_default(),
        station: context.text("station").unwrap_or_default(),
    };
    serve(order, &mut |text| context.say(text))?;
    Ok(Exit::Done)
}
