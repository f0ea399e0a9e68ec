//! Any record as lines of plain words, for the printed record and the terminal.
