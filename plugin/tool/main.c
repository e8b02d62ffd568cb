/*
 * The `counterfoil` command: finds the command that is asked for and runs it. Everything goes through counterfoil.h.
 */
#include "commands.h"
#include "console.h"
#include "print.h"

#include <counterfoil/counterfoil.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

static int version_print(void)
{
    printf("counterfoil %d.%d.%d, library %s\n", CFOIL_VERSION_MAJOR, CFOIL_VERSION_MINOR, CFOIL_VERSION_PATCH,
           cfoil_version());
    return TOOL_OK;
}

static int command_missing(const char *name)
{
    if (name[0] == '-')
        complain("unknown option '%s'; options of a command come after its name, see 'counterfoil --help'", name);
    else
        complain("unknown command '%s'; see 'counterfoil --help'", name);
    return TOOL_USAGE;
}

static int help_run(int argc, char **argv)
{
    if (argc > 3) {
        complain("help takes one command; see 'counterfoil --help'");
        return TOOL_USAGE;
    }
    if (argc < 3) {
        program_help_print();
        return TOOL_OK;
    }
    const struct command *command = command_find(argv[2]);
    if (command == NULL)
        return command_missing(argv[2]);
    command_help_print(command);
    return TOOL_OK;
}

static int command_run(int argc, char **argv)
{
    const struct command *command = command_find(argv[1]);
    if (command == NULL)
        return command_missing(argv[1]);
    struct arguments arguments;
    int result = arguments_parse(command, argc - 1, argv + 1, &arguments);
    if (result != TOOL_OK)
        return result;
    if (arguments.values[OPTION_HELP] == NULL)
        return command->run(&arguments);
    command_help_print(command);
    return TOOL_OK;
}

int main(int argc, char **argv)
{
    standard_files_ensure();
    if (argc < 2) {
        complain("no command given; see 'counterfoil --help'");
        return TOOL_USAGE;
    }
    const char *first = argv[1];
    int result;
    if (strcmp(first, "--version") == 0) {
        result = version_print();
    } else if (strcmp(first, "help") == 0) {
        result = help_run(argc, argv);
    } else if (strcmp(first, "--help") == 0 || strcmp(first, "-h") == 0) {
        program_help_print();
        result = TOOL_OK;
    } else {
        result = command_run(argc, argv);
    }
    return output_finish(result);
}
