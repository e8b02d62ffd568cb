/*
 * The ends of the Wilson interval, and that it behaves as an interval everywhere.
 */
#include "statistics/statistics.h"

#include "test.h"

#include <math.h>

static void no_trials_give_no_interval(void **state)
{
    (void)state;
    double lower = 7;
    double upper = 7;
    assert_false(interval_wilson(0, 0, QUANTILE_975, &lower, &upper));
    assert_false(interval_wilson(3, 2, QUANTILE_975, &lower, &upper));
    assert_true(lower >= 7 && upper >= 7);
}

static void the_ends_are_exact(void **state)
{
    (void)state;
    static const uint64_t sizes[] = {1, 2, 3, 7, 20, 1000, 12345678, UINT64_C(1) << 53};
    for (size_t i = 0; i < sizeof sizes / sizeof sizes[0]; i++) {
        double lower;
        double upper;
        assert_true(interval_wilson(0, sizes[i], QUANTILE_975, &lower, &upper));
        assert_true(lower >= 0 && lower <= 0 && upper > 0 && upper < 1);
        double rest = upper;
        assert_true(interval_wilson(sizes[i], sizes[i], QUANTILE_975, &lower, &upper));
        assert_true(upper >= 1 && upper <= 1 && lower > 0 && lower < 1);
        assert_true(fabs(1 - lower - rest) < 1e-12);
    }
}

static void the_interval_holds_the_share_and_mirrors(void **state)
{
    (void)state;
    for (uint64_t n = 1; n <= 60; n++) {
        double before = -1;
        for (uint64_t x = 0; x <= n; x++) {
            double lower;
            double upper;
            double mirrored_lower;
            double mirrored_upper;
            double share = (double)x / (double)n;
            assert_true(interval_wilson(x, n, QUANTILE_975, &lower, &upper));
            assert_true(0 <= lower && lower <= share && share <= upper && upper <= 1 && lower < upper);
            assert_true(lower > before);
            before = lower;
            assert_true(interval_wilson(n - x, n, QUANTILE_975, &mirrored_lower, &mirrored_upper));
            assert_true(fabs(lower + mirrored_upper - 1) < 1e-12);
            assert_true(interval_wilson(x, n, 1, &mirrored_lower, &mirrored_upper));
            assert_true(mirrored_upper - mirrored_lower < upper - lower);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(no_trials_give_no_interval),
        cmocka_unit_test(the_ends_are_exact),
        cmocka_unit_test(the_interval_holds_the_share_and_mirrors),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
