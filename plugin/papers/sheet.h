/*
 * A sheet that is written from top to bottom: as plain text of equal places for a receipt printer, or as an HTML page.
 */
#ifndef PAPERS_SHEET_H
#define PAPERS_SHEET_H

#include "model/growing.h"
#include "packs/pack.h"

struct sheet {
    struct growing growing;
    const struct pack_set *packs;
    const char *language;
    size_t columns;   /* places of a line; 0 = HTML */
    bool after_field; /* plain text: a paragraph that follows stands apart */
};

/* `slip`: as narrow as a receipt printer's paper, also on a larger sheet. */
void sheet_begin(struct sheet *sheet, const char *title_key, bool slip);
void sheet_end(struct sheet *sheet);

/* A paragraph: a message, or a text. Empty ones leave no trace. */
void sheet_message(struct sheet *sheet, const char *key);
void sheet_text(struct sheet *sheet, const char *text);

/* What the message of the key names, and its value. Without a value nothing is written. */
void sheet_field(struct sheet *sheet, const char *key, const char *value);

/* The same as a paragraph, for a longer text. */
void sheet_remark(struct sheet *sheet, const char *key, const char *text);

/* What the message names, and a line for a hand to write on. */
void sheet_blank(struct sheet *sheet, const char *key);

/* What lies between belongs together and is kept on one page. */
void sheet_group_begin(struct sheet *sheet);
void sheet_group_end(struct sheet *sheet);

#endif
