/*
 * Events as JSON (schema "counterfoil.event/1"), from the struct that the host sees.
 */
#ifndef MODEL_EVENT_H
#define MODEL_EVENT_H

#include <cjson/cJSON.h>
#include <counterfoil/counterfoil.h>

/* A new JSON object, to be freed with cJSON_Delete(); NULL = no memory. */
cJSON *event_json(const cfoil_event *event);

#endif
