/*
 * A ledger in a folder of its own through the exported functions, for tests about kept notes and who may do what.
 */
#ifndef SHOP_H
#define SHOP_H

#include "test.h"

#include <cjson/cJSON.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

struct shop {
    char folder[64];
    char path[96];
    cfoil_context *context;
    cfoil_ledger *ledger;
};

static struct shop shop;
static char shop_text[65536];

static inline void shop_ledger_open(void)
{
    cfoil_ledger_options options = CFOIL_LEDGER_OPTIONS_INIT;
    options.path = shop.path;
    assert_int_equal(cfoil_ledger_open(shop.context, &options, &shop.ledger), CFOIL_OK);
}

static inline int shop_open(void **state)
{
    (void)state;
    strcpy(shop.folder, "/tmp/counterfoil-shop-XXXXXX");
    assert_non_null(mkdtemp(shop.folder));
    snprintf(shop.path, sizeof shop.path, "%s/ledger", shop.folder);
    assert_int_equal(cfoil_context_open(NULL, &shop.context), CFOIL_OK);
    shop_ledger_open();
    return 0;
}

static inline int shop_close(void **state)
{
    (void)state;
    cfoil_context_close(shop.context);
    static const char *const endings[] = {"", "-wal", "-shm", ".key"};
    for (int i = 0; i < 4; i++) {
        char path[128];
        snprintf(path, sizeof path, "%s%s", shop.path, endings[i]);
        unlink(path);
    }
    return rmdir(shop.folder);
}

/* The `items` of a list, or any other JSON that a call writes; the caller deletes it. */
static inline cJSON *shop_list(int32_t list, const char *only)
{
    assert_int_equal(cfoil_ledger_list_json(shop.ledger, list, only, shop_text, sizeof shop_text, NULL), CFOIL_OK);
    cJSON *object = cJSON_Parse(shop_text);
    assert_non_null(object);
    cJSON *items = cJSON_DetachItemFromObject(object, "items");
    assert_true(cJSON_IsArray(items));
    cJSON_Delete(object);
    return items;
}

static inline int shop_list_count(int32_t list, const char *only)
{
    cJSON *items = shop_list(list, only);
    int count = cJSON_GetArraySize(items);
    cJSON_Delete(items);
    return count;
}

static inline const char *shop_text_in(const cJSON *object, const char *key)
{
    const char *value = cJSON_GetStringValue(cJSON_GetObjectItem(object, key));
    return value != NULL ? value : "";
}

static inline cfoil_case *shop_case_open(const char *sale, int64_t value_minor)
{
    cfoil_case_options options = CFOIL_CASE_OPTIONS_INIT;
    cfoil_case *doubt;
    options.currency = "EUR";
    options.value_minor = value_minor;
    options.ledger = shop.ledger;
    options.lane = "1";
    options.sale = sale;
    options.jurisdiction = "DE";
    assert_int_equal(cfoil_case_open(shop.context, &options, &doubt), CFOIL_OK);
    return doubt;
}

static inline cfoil_record shop_case_end(cfoil_case *doubt, int32_t disposition, const char *envelope)
{
    cfoil_disposition_options options = CFOIL_DISPOSITION_OPTIONS_INIT;
    cfoil_record record = CFOIL_RECORD_INIT;
    options.disposition = disposition;
    options.envelope = envelope;
    assert_int_equal(cfoil_case_dispose(doubt, &options, &record), CFOIL_OK);
    cfoil_case_close(doubt);
    return record;
}

/* Answers every check alike until there is advice. */
static inline void shop_case_answer(cfoil_case *doubt, int32_t answer)
{
    cfoil_step step = CFOIL_STEP_INIT;
    for (int i = 0; i < 12; i++) {
        assert_int_equal(cfoil_case_step(doubt, &step), CFOIL_OK);
        if (step.kind != CFOIL_STEP_CHECK)
            return;
        assert_int_equal(cfoil_case_answer(doubt, step.check, answer), CFOIL_OK);
    }
}

/* A note that was set aside; its case id is in the record. */
static inline cfoil_record shop_note_keep(const char *sale, const char *envelope)
{
    cfoil_case *doubt = shop_case_open(sale, 5000);
    shop_case_answer(doubt, CFOIL_ANSWER_NOT_AS_IT_SHOULD_BE);
    return shop_case_end(doubt, CFOIL_DISPOSITION_SET_ASIDE, envelope);
}

#endif
