/*
 * Which settings does the ccTalk adapter take, and what does it say of those it does not?
 */
#include "rig.h"

#include "fake_validator.c"
#include "rig.c"

#include <stdio.h>

static void good_test(void **state)
{
    (void)state;
    static const char *const good[] = {
        "",
        "address=auto",
        "address=2",
        "address=255",
        "address=040",
        "check=auto",
        "check=sum",
        "check=crc",
        "poll_ms=50",
        "poll_ms=500",
        "answer_ms=20",
        "answer_ms=2000",
        "hold_ms=0",
        "hold_ms=600000",
        "currency.GB=GBP",
        "currency.EU=EUR;currency.XA=XTS;address=41;check=sum;poll_ms=100;answer_ms=100;hold_ms=5000",
    };
    for (uint32_t i = 0; i < sizeof good / sizeof good[0]; i++) {
        struct rig *rig = rig_begin();
        char error[160] = "";
        assert_int_equal(rig_open(rig, CFOIL_ACCEPT_HOLD, good[i], error), CFOIL_OK);
        assert_string_equal(error, "");
        rig_end(rig);
    }
}

static void bad_test(void **state)
{
    (void)state;
    static const char *const bad[] = {
        "address=",
        "address=1",
        "address=256",
        "address=0",
        "address=4x",
        "address=-1",
        "address=Auto",
        "check=",
        "check=xor",
        "check=SUM",
        "poll_ms=49",
        "poll_ms=501",
        "poll_ms=",
        "poll_ms=1e2",
        "answer_ms=19",
        "answer_ms=2001",
        "hold_ms=600001",
        "hold_ms=9999999999",
        "hold_ms= 5",
        "echo=on",
        "currency.=EUR",
        "currency.E=EUR",
        "currency.EUR=EUR",
        "currency.eu=EUR",
        "currency.EU=EU",
        "currency.EU=EURO",
        "currency.EU=eur",
        "currency.EU=",
        "currency.TK=EUR",
        "currency=EUR",
        "Address=40",
        "=5",
        "hold_ms=5;nothing=1",
        "currency.E1=EUR",
        "currency.EU=E[R",
    };
    for (uint32_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        struct rig *rig = rig_begin();
        char error[160] = "";
        assert_int_equal(rig_open(rig, CFOIL_ACCEPT_HOLD, bad[i], error), CFOIL_E_ARGUMENT_SETTING);
        assert_true(strncmp(error, "Setting ", 8) == 0 && error[strlen(error) - 1] == '.');
        assert_null(strchr(error, '\n'));
        assert_int_equal(rig_open(rig, CFOIL_ACCEPT_HOLD, bad[i], NULL), CFOIL_E_ARGUMENT_SETTING);
        assert_int_equal(rig->sent_count + rig->event_count + rig->state_count, 0);
        rig_end(rig);
    }
}

/* An error text of no length is not written. */
static void no_room_test(void **state)
{
    (void)state;
    struct rig *rig = rig_begin();
    char error[4] = "abc";
    const cfoil_adapter_setting setting = {"nothing", "1"};
    cfoil_adapter_start start = {.struct_size = sizeof start,
                                 .setting_count = 1,
                                 .settings = &setting,
                                 .host = &rig->host,
                                 .error_capacity = 0,
                                 .error = error};
    assert_int_equal(rig->adapter->open(rig->state, &start), CFOIL_E_ARGUMENT_SETTING);
    assert_string_equal(error, "abc");
    start.error_capacity = sizeof error;
    assert_int_equal(rig->adapter->open(rig->state, &start), CFOIL_E_ARGUMENT_SETTING);
    assert_string_equal(error, "Set");
    rig_end(rig);
}

static void currencies_too_many_test(void **state)
{
    (void)state;
    for (uint32_t count = 16; count <= 17; count++) {
        struct rig *rig = rig_begin();
        char text[512] = "";
        char error[160] = "";
        for (uint32_t i = 0; i < count; i++)
            snprintf(text + strlen(text), sizeof text - strlen(text), "%scurrency.X%c=XTS", i > 0 ? ";" : "", 'A' + i);
        int32_t result = rig_open(rig, CFOIL_ACCEPT_HOLD, text, error);
        assert_int_equal(result, count == 16 ? CFOIL_OK : CFOIL_E_ARGUMENT_SETTING);
        rig_end(rig);
    }
}

static void table_test(void **state)
{
    (void)state;
    const cfoil_adapter *adapter = &cctalk_adapter;
    assert_int_equal(adapter->struct_size, sizeof *adapter);
    assert_int_equal(adapter->api_version, CFOIL_ADAPTER_API);
    assert_string_equal(adapter->id, "cctalk");
    assert_int_equal(adapter->maturity, CFOIL_MATURITY_EXPERIMENTAL);
    assert_int_equal(adapter->frame_max, 257);
    assert_int_equal(adapter->line.baud, 9600);
    assert_true(adapter->state_size < 65536);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(good_test),    cmocka_unit_test(bad_test),
        cmocka_unit_test(no_room_test), cmocka_unit_test(currencies_too_many_test),
        cmocka_unit_test(table_test),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
