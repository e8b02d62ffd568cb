/*
 * What a refusal means. See predict.h.
 */
#include "statistics/predict.h"

#include <math.h>
#include <stddef.h>
#include <string.h>

static const struct base_rate base_rates[] = {
    {"EUR", 18, "2024", "European Central Bank, press release of 21 February 2025", "one source"},
    {"GBP", 112, "2019",
     "counts as the press told them; notes in circulation from the Bank of England; paper notes, newer figures are a "
     "gap",
     "one source"},
    {"USD", 12.5, "not shown",
     "Federal Reserve, International Finance Discussion Paper \"Estimating the Volume of Counterfeit U.S. Currency in "
     "Circulation\": at "
     "most 25, likely 12.5",
     "one source"},
    {"INR", 1.5, "2023-24", "reports of the Reserve Bank of India as the press told them; counts only what banks found",
     "derived"},
};

const struct base_rate *base_rate_find(const char *currency)
{
    for (size_t i = 0; i < sizeof base_rates / sizeof base_rates[0]; i++) {
        if (strcmp(base_rates[i].currency, currency) == 0)
            return &base_rates[i];
    }
    return NULL;
}

/* Odds before, times the likelihood ratio of a refusal. */
double predictive_log_odds(double prior, double caught, double refused)
{
    return log(prior) - log1p(-prior) + log(caught / refused);
}
