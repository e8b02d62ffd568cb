/*
 * The open check or the advice as JSON, for hosts that have no use for the layout of a struct.
 */
#include "guidance/guidance.h"
#include "model/json.h"
#include "model/names.h"

static bool box_add(cJSON *object, const cfoil_step *step)
{
    if (step->box_known == 0)
        return json_null_add(object, "box_permille");
    cJSON *box = json_object_add(object, "box_permille");
    return json_integer_add(box, "left", step->left_permille) && json_integer_add(box, "top", step->top_permille) &&
           json_integer_add(box, "right", step->right_permille) &&
           json_integer_add(box, "bottom", step->bottom_permille);
}

static bool check_add(cJSON *object, const cfoil_step *step)
{
    static const char *const sides[] = {"whole", "front", "back"};
    return json_text_add(object, "check", step->check) && json_integer_add(object, "number", step->number) &&
           json_integer_add(object, "number_max", step->number_max) &&
           json_text_add(object, "sense", name_sense(step->sense)) &&
           json_text_add(object, "side", sides[step->side]) && box_add(object, step) &&
           json_text_add(object, "expected", step->expected) && json_text_add(object, "doubtful", step->doubtful) &&
           json_text_add(object, "hint", step->hint) && json_text_add(object, "where", step->where);
}

static bool dispositions_add(cJSON *object, uint32_t dispositions)
{
    cJSON *list = json_array_add(object, "dispositions");
    bool good = list != NULL;
    for (int32_t code = CFOIL_DISPOSITION_TAKEN; good && code <= CFOIL_DISPOSITION_ABANDONED; code++)
        good = (dispositions & 1u << code) == 0 || json_text_add(list, NULL, name_disposition(code));
    return good;
}

static bool advice_add(cJSON *object, const cfoil_step *step)
{
    return json_text_add(object, "advice", name_advice(step->advice)) && json_text_add(object, "say", step->say) &&
           json_text_add(object, "reasons", step->reasons);
}

bool guidance_step_add(cJSON *object, struct guidance *guidance)
{
    cfoil_step step = CFOIL_STEP_INIT;
    cJSON *item = json_object_add(object, "step");
    if (item == NULL || guidance_step(guidance, &step, NULL) != CFOIL_OK)
        return false;
    bool check = step.kind == CFOIL_STEP_CHECK;
    return json_text_add(item, "kind", check ? "check" : "advice") && json_text_add(item, "title", step.title) &&
           json_text_add(item, "instruction", step.instruction) &&
           (check ? check_add(item, &step) : advice_add(item, &step)) && dispositions_add(item, step.dispositions) &&
           json_text_add(item, "caution", step.caution) && json_text_add(item, "source", step.source);
}
