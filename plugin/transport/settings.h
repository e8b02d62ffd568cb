/*
 * Adapter settings "key=value;key=value", cut into the form that adapters take.
 */
#ifndef TRANSPORT_SETTINGS_H
#define TRANSPORT_SETTINGS_H

#include <counterfoil/adapter.h>

#define SETTINGS_MAX      32
#define SETTINGS_TEXT_MAX 512

struct settings {
    uint32_t count;
    cfoil_adapter_setting items[SETTINGS_MAX]; /* point into `text`: do not copy the struct */
    char text[SETTINGS_TEXT_MAX + 1];
};

/* NULL and "" are no settings. CFOIL_OK or CFOIL_E_ARGUMENT_SETTING. */
int32_t settings_parse(const char *text, struct settings *settings, cfoil_error_info *error);

/* Takes one setting out; its value stays in `text`. NULL = it was not given. */
const char *settings_take(struct settings *settings, const char *key);

/* What is left, as a text again. */
void settings_join(const struct settings *settings, char text[SETTINGS_TEXT_MAX + 1]);

#endif
