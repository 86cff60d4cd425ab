//! Reads `rules/` into a [`super::Catalogue`].
