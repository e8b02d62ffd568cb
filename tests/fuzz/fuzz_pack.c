/*
 * Any bytes as a pack file: refused with a reason, or loaded and then usable; never a crash, never half done.
 */
#include "fuzz.h"

#include "model/json_scan.h"
#include "packs/pack_data.h"

static void currency_use(const struct pack_currency *currency)
{
    for (uint32_t i = 0; i < currency->note_count; i++) {
        const struct pack_note *note = &currency->notes[i];
        demand(pack_note_find(currency, note->value_minor, note->series) == note);
        demand(pack_series_find(currency, note->series) != NULL);
        for (uint32_t j = 0; j < note->check_count; j++)
            demand(note->checks[j].id != NULL && note->checks[j].hint != NULL && note->checks[j].source[0] != '\0');
    }
    cfoil_serial serial = CFOIL_SERIAL_INIT;
    serial_check(currency, "VA0436214792", &serial);
    demand(strlen(serial.text) > 0);
}

/* What the scanner lets pass, cJSON parses, too. */
static void scanners_agree(const char *text, size_t length)
{
    struct json_fault fault = {0};
    if (json_scan(text, length, &fault)) {
        cJSON *tree = cJSON_ParseWithLength(text, length);
        demand(tree != NULL);
        cJSON_Delete(tree);
    } else {
        demand(fault.line >= 1 && fault.what != NULL);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    const char *text = (const char *)data;
    scanners_agree(text, size);
    struct pack *pack;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    int32_t result = pack_parse(&memory_heap, "fuzz.json", text, size, &pack, &error);
    demand((result == CFOIL_OK) == (pack != NULL));
    if (pack == NULL) {
        demand(error.result == result && (result & 0xff) == CFOIL_CLASS_DATA && error.text[0] != '\0');
        return 0;
    }
    if (pack->kind == PACK_CURRENCY)
        currency_use(&pack->as.currency);
    pack_release(pack);
    return 0;
}
