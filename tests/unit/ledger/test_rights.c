/*
 * Whose rights on the file are accepted when it is opened for writing.
 */
#include "world.h"

static int32_t open_with_rights(struct world *world, mode_t mode, int32_t rights, int32_t read_only)
{
    cfoil_ledger_options options = CFOIL_LEDGER_OPTIONS_INIT;
    options.path = world->path;
    options.rights = rights;
    options.read_only = read_only;
    assert_int_equal(chmod(world->path, mode), 0);
    int32_t result = ledger_open(&memory_heap, &options, &world->ledger, &world->error);
    ledger_release(world->ledger);
    world->ledger = NULL;
    return result;
}

static void rights_of_others_are_refused_unless_allowed(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    ledger_release(world.ledger);
    world.ledger = NULL;
    assert_int_equal(open_with_rights(&world, 0600, CFOIL_RIGHTS_OWNER, 0), CFOIL_OK);
    assert_int_equal(open_with_rights(&world, 0640, CFOIL_RIGHTS_OWNER, 0), CFOIL_E_LEDGER_RIGHTS);
    assert_non_null(strstr(world.error.text, "chmod 600"));
    assert_int_equal(open_with_rights(&world, 0660, CFOIL_RIGHTS_GROUP, 0), CFOIL_OK);
    assert_int_equal(open_with_rights(&world, 0664, CFOIL_RIGHTS_GROUP, 0), CFOIL_E_LEDGER_RIGHTS);
    assert_int_equal(open_with_rights(&world, 0666, CFOIL_RIGHTS_ANY, 0), CFOIL_OK);
    assert_int_equal(open_with_rights(&world, 0644, CFOIL_RIGHTS_OWNER, 1), CFOIL_OK);
    world_close(&world);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(rights_of_others_are_refused_unless_allowed)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
