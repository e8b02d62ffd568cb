/*
 * A program of somebody else's that uses the installed library; compiled as C and as C++.
 */
#include <counterfoil/adapter.h>
#include <stdio.h>

int main(void)
{
    cfoil_context_options options = CFOIL_CONTEXT_OPTIONS_INIT;
    cfoil_context *context = NULL;
    int32_t result = cfoil_context_open(&options, &context);
    if (result != CFOIL_OK) {
        fprintf(stderr, "%s\n", cfoil_error_text(result));
        return 1;
    }
    cfoil_context_close(context);
    puts(cfoil_version());
    return 0;
}
