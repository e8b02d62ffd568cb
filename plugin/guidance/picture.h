/*
 * Where to look: the outline of a note to scale with the place to check, as SVG, and the same in words.
 * It shows a place and never the note: no design, no number, no colour of a note.
 */
#ifndef GUIDANCE_PICTURE_H
#define GUIDANCE_PICTURE_H

#include "packs/pack.h"

#include <stddef.h>

/* The words of a check in the language of the case. */
struct picture_words {
    const char *title; /* of the check */
    const char *side;  /* the side, as a caption */
    const char *where; /* where to look and how, in words */
};

#define PICTURE_TEXT_SIZE 512

/* What the select patterns picture.side and picture.where choose by. */
struct picture_place {
    const char *side;   /* "front", "back", "whole" */
    const char *across; /* "left", "middle", "right", "all" */
    const char *down;   /* "top", "middle", "bottom", "all" */
    const char *how;    /* "feel", "look", "tilt", "light", "magnifier", "ultraviolet", "ruler", "known_note" */
};
void picture_place_find(const struct pack_check *check, struct picture_place *place);

/* Writes the picture as snprintf() would, and returns its whole length. */
size_t picture_write(const struct pack_note *note, const struct pack_check *check, const struct picture_words *words,
                     char *buffer, size_t capacity);

#endif
