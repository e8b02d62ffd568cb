/*
 * One checkout: its machine, the note that is being looked at, and those that wait. All of it from the public interface.
 */
#ifndef CHECKOUT_SHOP_H
#define CHECKOUT_SHOP_H

#include <cjson/cJSON.h>
#include <counterfoil/counterfoil.h>
#include <stdbool.h>

struct shop_options {
    const char *adapter; /* NULL = no machine */
    const char *port;
    const char *ledger;
    const char *currency;
    const char *jurisdiction; /* NULL = the cautious common ground */
    const char *language;
};

struct shop;

/* NULL and one line on standard error when something cannot be opened. */
struct shop *shop_open(const struct shop_options *options);
/* Nothing new comes any more: who waits for news is woken. */
void shop_news_end(struct shop *shop);
void shop_close(struct shop *shop);

/* What every screen shows, as JSON; free() it. */
char *shop_state(struct shop *shop);

/* Waits until something is newer than `seen`, at most `timeout_ms`. 0 = the shop closes. */
uint64_t shop_news_wait(struct shop *shop, uint64_t seen, uint32_t timeout_ms);

/* ---- What a cashier does. Each answers a result code and fills `told` with one line for the screen. ---- */

#define SHOP_TOLD_SIZE 320
/* The answer of shop_* when another screen has gone on with the case; no code of the library. */
#define SHOP_STALE (-1)

int32_t shop_language_set(struct shop *shop, const char *language, char told[SHOP_TOLD_SIZE]);
int32_t shop_case_open(struct shop *shop, int64_t value_minor, char told[SHOP_TOLD_SIZE]);
int32_t shop_answer(struct shop *shop, const char *case_id, int64_t turn, const char *check, int32_t answer,
                    char told[SHOP_TOLD_SIZE]);
int32_t shop_serial_set(struct shop *shop, const char *case_id, int64_t turn, const char *serial,
                        char told[SHOP_TOLD_SIZE]);
int32_t shop_dispose(struct shop *shop, const char *case_id, int64_t turn, cfoil_disposition_options *options,
                     char told[SHOP_TOLD_SIZE]);

/* ---- Documents; free() them. NULL = there is none. ---- */

char *shop_picture(struct shop *shop);
char *shop_receipt(struct shop *shop, const char *case_id);
/* What a bank is likely to give for a damaged note: lines of text in the checkout's language. `wish` has value_minor, and may have
 * area_cm2 and conditions as docs/damaged-notes.md names them. On failure `told` says why. */
char *shop_worth(struct shop *shop, const cJSON *wish, char told[SHOP_TOLD_SIZE]);
char *shop_message(struct shop *shop, const char *key);

#endif
