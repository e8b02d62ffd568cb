/*
 * Names, words, shares and amounts as people read them.
 */
#ifndef STATISTICS_SHOWN_H
#define STATISTICS_SHOWN_H

#include "statistics/figures.h"

#define WORD_SIZE   40
#define SHARE_SIZE  16
#define AMOUNT_SIZE 48

/* `name`, or `absent` when it is empty; never what would break a page. */
const char *name_shown(const char *name, const char *absent);
const char *word_shown(const char *name, char word[WORD_SIZE]);              /* "not recognised" of "not_recognised" */
const char *share_shown(double share, char text[SHARE_SIZE]);                /* "3.1 %" */
const char *amount_shown(const struct money *money, char text[AMOUNT_SIZE]); /* "EUR 20.00" */

#endif
