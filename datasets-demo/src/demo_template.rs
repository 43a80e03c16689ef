//! The template as the generator uses it: people and movements on it.

use formkin_geometry::{Point, Template};
use formkin_stats::random::stream;
use rand::Rng;

use crate::DemoError;
use crate::movement::clip::Movement;
use crate::movement::sequence::{Sequence, springs};
use crate::movement::skeleton::{Skeleton, Skinning};
use crate::movement::soft::Spring;
use crate::people::factors::Latents;
use crate::people::figures::Sex;
use crate::people::girths::Rings;
use crate::people::noise::add_noise;
use crate::people::shape::Aims;
use crate::people::stance::Stance;
use crate::template::Base;

/// Share of men among the crews (ours).
const MEN: f64 = 0.6;

/// The demo template and everything that turns it into people.
#[derive(Debug, Clone)]
pub struct DemoTemplate {
    base: Base,
    rings: Rings,
    skinning: Skinning,
    seed: u64,
}

/// Makes the template: the mean adult, standing, arms slightly away from the body, fists closed; mm, z up, floor at z = 0,
/// facing -y, the left side at +x. Watertight, of genus 0, with exact mirror pairs.
///
/// `seed` is that of the people drawn on it; the template itself is the same for every seed.
///
/// # Errors
/// [`DemoError::Parameter`] where `vertices` is not 3,000 to 100,000; [`DemoError::Template`] where the surface that came out is
/// not closed.
pub fn template(vertices: usize, seed: u64) -> Result<DemoTemplate, DemoError> {
    crate::DemoParams { vertices, ..Default::default() }.check()?;
    let base = Base::new(vertices)?;
    let rings = Rings::new(&base);
    let skinning = Skinning::new(&base);
    Ok(DemoTemplate { base, rings, skinning, seed })
}

impl DemoTemplate {
    /// The triangles and their names.
    #[must_use]
    pub fn template(&self) -> &Template {
        &self.base.template
    }

    #[cfg(test)]
    pub(crate) fn base(&self) -> &Base {
        &self.base
    }

    /// The factors of a participant, from 0. They do not depend on how many participants there are.
    #[must_use]
    pub fn draw(&self, participant: usize) -> Latents {
        let mut rng = stream(self.seed, &format!("person {participant}"));
        let sex = if rng.r#gen::<f64>() < MEN { Sex::Male } else { Sex::Female };
        Latents::draw(sex, &mut rng)
    }

    /// The body of a person in the stance of the template, mm; its mirror pairs are exact.
    #[must_use]
    pub fn person(&self, latents: &Latents) -> Vec<Point> {
        let shape = self.rings.solve(&self.base, &Aims::new(latents));
        (0..self.base.mirror.len()).map(|v| self.base.place(&shape, v)).collect()
    }

    /// A scan of a body: its own stance (unless `stance` is false) and noise of SD `noise_mm`.
    #[must_use]
    pub fn scan(
        &self,
        body: &[Point],
        latents: &Latents,
        (participant, session): (usize, usize),
        stance: bool,
        noise_mm: f64,
    ) -> Vec<Point> {
        let mut rng = stream(self.seed, &format!("scan {participant} {session}"));
        let drawn = Stance::draw(latents, &mut rng);
        let mut scan = if stance { drawn.take(&self.base, &self.skinning, body) } else { body.to_vec() };
        let template = &self.base.template.mesh;
        add_noise(template.topology(), template.positions(), &mut scan, noise_mm, &mut rng);
        scan
    }

    /// The frames of a movement of a body, one after the other, without end.
    pub fn frames<'a>(
        &'a self,
        body: &'a [Point],
        latents: &Latents,
        movement: Movement,
        frames_per_second: f64,
    ) -> impl Iterator<Item = Vec<Point>> + 'a {
        let mut sequence =
            Sequence::new(&self.base, &self.skinning, body, latents, movement, frames_per_second);
        std::iter::from_fn(move || Some(sequence.frame()))
    }

    /// The turns of all joints of a body at a time of a movement, as unit quaternions (w, x, y, z) in the order of the template's joints:
    /// the truth that a pose estimation is held against.
    #[must_use]
    pub fn turns(&self, body: &[Point], movement: Movement, time_s: f64) -> Vec<[f64; 4]> {
        movement.pose(&Skeleton::new(&self.base, body), time_s).turns
    }

    /// Noise of a frame of a sequence, as that of a scan but its own.
    pub(crate) fn film_noise(
        &self,
        frame: &mut [Point],
        (participant, movement, k): (usize, Movement, usize),
        noise_mm: f64,
    ) {
        let mut rng = stream(self.seed, &format!("frame {participant} {} {k}", movement.name()));
        let template = &self.base.template.mesh;
        add_noise(template.topology(), template.positions(), frame, noise_mm, &mut rng);
    }

    /// The springs of a person's soft tissue.
    #[must_use]
    pub fn springs(&self, latents: &Latents) -> Vec<Spring> {
        springs(latents).to_vec()
    }
}
