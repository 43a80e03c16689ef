//! What a person types to export.

use std::path::PathBuf;

use clap::{Subcommand, ValueEnum};

use super::{ItemsArg, some_modes};

#[derive(Debug, Clone, Copy, ValueEnum)]
pub(crate) enum MeshFormat {
    Ply,
    Obj,
}

#[derive(Debug, Subcommand)]
pub(crate) enum ExportCommand {
    /// Mean and first modes as glTF morph targets
    Glb {
        /// The space
        space: PathBuf,
        /// The file to write
        #[arg(long, value_name = "FILE.glb")]
        into: PathBuf,
        /// How many modes
        #[arg(long, default_value_t = 5, value_parser = some_modes)]
        modes: usize,
        /// Write over an existing file
        #[arg(long)]
        force: bool,
    },
    /// The items of a cohort as mesh files
    Meshes {
        /// The cohort
        cohort: PathBuf,
        /// The folder to write into
        #[arg(long, value_name = "DIR")]
        into: PathBuf,
        /// The kind of file
        #[arg(long, value_enum, default_value = "ply")]
        format: MeshFormat,
        /// Which items
        #[arg(long, value_enum, default_value = "stills")]
        items: ItemsArg,
        /// Write over existing files
        #[arg(long)]
        force: bool,
    },
    /// The coefficients of a cohort's items in a space, as Parquet
    Coefficients {
        /// The space
        space: PathBuf,
        /// The cohort
        cohort: PathBuf,
        /// The file to write
        #[arg(long, value_name = "FILE.parquet")]
        into: PathBuf,
        /// Which items
        #[arg(long, value_enum, default_value = "stills")]
        items: ItemsArg,
        /// Write over an existing file
        #[arg(long)]
        force: bool,
    },
}
