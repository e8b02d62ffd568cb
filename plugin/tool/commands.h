/*
 * The commands there are, and their help.
 */
#ifndef TOOL_COMMANDS_H
#define TOOL_COMMANDS_H

#include "arguments.h"

/* Ends with a NULL name. */
extern const struct command commands[];

const struct command *command_find(const char *name);
void program_help_print(void);
void command_help_print(const struct command *command);

int watch_run(const struct arguments *arguments);
int till_run(const struct arguments *arguments);
int serial_run(const struct arguments *arguments);
int report_run(const struct arguments *arguments);
int verify_run(const struct arguments *arguments);
int export_run(const struct arguments *arguments);
int import_run(const struct arguments *arguments);
int entry_run(const struct arguments *arguments);
int explain_run(const struct arguments *arguments);
int pack_run(const struct arguments *arguments);
int language_check_run(const struct arguments *arguments); /* pack check --language */
int jurisdiction_run(const struct arguments *arguments);
int catalogue_run(const struct arguments *arguments);
int devices_run(const struct arguments *arguments);
int held_run(const struct arguments *arguments);
int custody_run(const struct arguments *arguments);
int reconcile_run(const struct arguments *arguments);
int cases_run(const struct arguments *arguments);
int person_run(const struct arguments *arguments);
int paper_run(const struct arguments *arguments);
int tender_run(const struct arguments *arguments);
int staff_run(const struct arguments *arguments);
int rule_run(const struct arguments *arguments);
int worth_run(const struct arguments *arguments);
int fit_run(const struct arguments *arguments);
int grid_run(const struct arguments *arguments);
int key_run(const struct arguments *arguments);
int rebuild_run(const struct arguments *arguments);

#endif
