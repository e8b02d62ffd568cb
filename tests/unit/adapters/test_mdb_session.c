/*
 * Does the MDB session start a device, credit each stacked note once, and say what it does not know?
 */
#include "fake_mdb.h"

static void one_note_is_credited(void **unused)
{
    (void)unused;
    for (int chunks = CHUNKS_WORD; chunks <= CHUNKS_BLOCK; chunks++) {
        struct rig *rig = rig_new(CFOIL_ACCEPT_ALL);
        rig->chunks = (enum fake_chunks)chunks;
        rig_open(rig);
        rig_run(rig, 3000);
        assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING);
        fake_insert(&rig->fake, 2);
        rig_run(rig, 3000);
        if (told_stacked(rig) != 1)
            told_print(rig);
        assert_int_equal(told_stacked(rig), 1);
        assert_int_equal(told_last(rig, CFOIL_KIND_STACKED)->value_minor, 500);
        rig_free(rig);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_note_is_credited),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
