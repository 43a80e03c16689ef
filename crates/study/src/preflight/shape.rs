//! Input, alignment, shape space, dimensions, predictions and the questions to the shape space.

use super::Check;
use super::known::Known;

const REMOVES: [&str; 3] = ["rigid", "similarity", "standing"];

impl Check<'_> {
    pub(super) fn shape(&mut self, known: &Known) {
        let file = self.file;
        self.word("align.removes", &file.align.removes, &REMOVES);
        if let Some(regions) = known.regions() {
            let weights = ["area", "plain"].into_iter().chain(regions.iter().copied());
            self.name("align.weights", "weighting or region", &file.align.weights, weights);
        }
        let space = &file.space;
        let glb_modes = file.export.glb_modes;
        self.within("export.glb_modes", glb_modes > 0, glb_modes, "1 or more");
        self.within("space.modes", space.modes != Some(0), 0, "1 or more; leave it out to keep all modes");
        self.within("space.folds", space.folds >= 2, space.folds, "2 or more");
        self.positive("space.target_mm", Some(space.target_mm), "mm");
        self.word("space.items", &space.items, &["stills", "all"]);
        self.within(
            "space.nulls",
            !space.criteria || (200..=100_000).contains(&space.nulls),
            space.nulls,
            "200 to 100000",
        );
        let draws = space.draws == 0 || (20..=100_000).contains(&space.draws);
        self.within("space.draws", !space.criteria || draws, space.draws, "0 for none, or 20 to 100000");
        let columns = known.columns(self);
        if let (Some(by), Some(columns)) = (file.dimensions.as_ref().and_then(|d| d.by.as_ref()), &columns) {
            self.column("dimensions.by", "column", by, columns, false);
        }
        if let Some(predict) = &file.predict {
            if file.dimensions.is_none() {
                self.wrong(
                    "predict",
                    "it needs dimensions to predict from",
                    "add [dimensions] with `definitions`",
                );
            } else if let Some(columns) = &columns {
                for name in &predict.from {
                    self.column("predict.from", "dimension or column", name, columns, false);
                }
            }
        }
        self.questions(known, columns.as_deref());
        let folder = self.at(&file.export.folder);
        if folder.exists() && !folder.is_dir() {
            self.wrong(
                "export.folder",
                format!("{} is a file", folder.display()),
                "name a folder for the results",
            );
        }
    }

    fn questions(&mut self, known: &Known, columns: Option<&[super::known::Column]>) {
        let shape = &self.file.shape;
        self.within("shape.modes", shape.modes > 0, shape.modes, "1 or more");
        let permutations = (1..=1_000_000).contains(&shape.permutations);
        self.within("shape.permutations", permutations, shape.permutations, "1 to 1000000");
        self.within(
            "shape.level",
            shape.level > 0.0 && shape.level < 1.0,
            shape.level,
            "above 0 and under 1",
        );
        self.within("shape.sample", shape.sample <= 1_000_000, shape.sample, "0 for none, or 1 to 1000000");
        if let Some(map) = &shape.map {
            self.word("shape.map", map, &["diffusion", "coefficients"]);
        }
        if let Some(columns) = columns {
            let words = shape.compare.iter().map(|n| ("shape.compare", n, false));
            let numbers = shape.regress.iter().map(|n| ("shape.regress", n, true));
            let fixed = shape.covariates.iter().map(|n| ("shape.covariates", n, false));
            let colours = shape.colours.iter().flatten().map(|n| ("shape.colours", n, false));
            let by = shape.sample_by.iter().map(|n| ("shape.sample_by", n, false));
            for (key, name, needed) in words.chain(numbers).chain(fixed).chain(colours).chain(by) {
                self.column(key, "column", name, columns, needed);
            }
        }
        if shape.symmetry
            && !known.template_unread
            && known.template.as_ref().is_none_or(|t| t.mirror.is_none())
        {
            self.wrong(
                "shape.symmetry",
                "the template has no mirror pairs",
                "name them in template.toml (`mirror = ..`), or set it to false",
            );
        }
        if let Some(regions) = known.regions() {
            for region in &shape.complete {
                if self.name("shape.complete", "region of the template", region, regions.iter().copied())
                    && let Some(template) = &known.template
                    && template
                        .regions
                        .get(region)
                        .is_some_and(|r| r.len() >= template.mesh.positions().len())
                {
                    self.wrong(
                        "shape.complete",
                        format!("`{region}` is the whole body"),
                        "hide a part of it",
                    );
                }
            }
        }
    }
}
