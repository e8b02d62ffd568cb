// The smallest useful host in C++17: serves one machine and leads the first note in doubt to its record.
//   host ADAPTER PORT LEDGER
#include <counterfoil/counterfoil.h>

#include <iostream>
#include <memory>
#include <stdexcept>
#include <string>

namespace {

void need(int32_t result)
{
    if (result != CFOIL_OK)
        throw std::runtime_error(cfoil_error_text(result));
}

struct ContextClose {
    void operator()(cfoil_context *context) const { cfoil_context_close(context); }
};
using Context = std::unique_ptr<cfoil_context, ContextClose>; // ends what was made from it, too

struct CaseClose {
    void operator()(cfoil_case *doubt) const { cfoil_case_close(doubt); }
};
using Case = std::unique_ptr<cfoil_case, CaseClose>;

// A real host shows each step and waits for the cashier; the answers here are made up.
void case_lead(cfoil_context *context, cfoil_ledger *ledger, const cfoil_event &event)
{
    cfoil_case_options options = CFOIL_CASE_OPTIONS_INIT;
    bool known = event.currency[0] != '\0'; // else a real host asks which note it is
    options.ledger = ledger;
    options.currency = known ? event.currency : "EUR";
    options.value_minor = known ? event.value_minor : 5000;
    cfoil_case *opened = nullptr;
    need(cfoil_case_open(context, &options, &opened));
    Case doubt(opened);
    need(cfoil_case_presentation_add(doubt.get(), &event));
    cfoil_step step = CFOIL_STEP_INIT;
    need(cfoil_case_step(doubt.get(), &step));
    while (step.kind == CFOIL_STEP_CHECK) {
        std::cout << step.title << ": " << step.instruction << '\n';
        need(cfoil_case_answer(doubt.get(), std::string(step.check).c_str(), CFOIL_ANSWER_NOT_AS_IT_SHOULD_BE));
        need(cfoil_case_step(doubt.get(), &step));
    }
    std::cout << step.title << ": " << step.say << '\n';
    cfoil_disposition_options end = CFOIL_DISPOSITION_OPTIONS_INIT;
    end.disposition = CFOIL_DISPOSITION_NOT_TAKEN;
    cfoil_record record = CFOIL_RECORD_INIT;
    need(cfoil_case_dispose(doubt.get(), &end, &record));
    std::cout << "case " << record.case_id << " not_taken\n";
}

bool in_doubt(const cfoil_event &event)
{
    return event.kind == CFOIL_KIND_REJECTED &&
           (event.reason == CFOIL_REASON_AUTHENTICITY || event.reason == CFOIL_REASON_NOT_RECOGNISED);
}

void serve(const char *adapter, const char *port, const char *path)
{
    cfoil_context *opened = nullptr;
    need(cfoil_context_open(nullptr, &opened));
    Context context(opened);
    cfoil_ledger_options store = CFOIL_LEDGER_OPTIONS_INIT;
    store.path = path;
    cfoil_ledger *ledger = nullptr;
    need(cfoil_ledger_open(context.get(), &store, &ledger));
    cfoil_lane_options options = CFOIL_LANE_OPTIONS_INIT;
    options.accept = CFOIL_ACCEPT_ALL;
    options.adapter = adapter;
    options.port = port;
    options.ledger = ledger;
    cfoil_lane *lane = nullptr;
    need(cfoil_lane_open(context.get(), &options, &lane));
    cfoil_event event = CFOIL_EVENT_INIT;
    do {
        need(cfoil_lane_wait(lane, 60000, &event));
        if (event.lane_state == CFOIL_LANE_ENDED)
            throw std::runtime_error("the lane has ended");
    } while (!in_doubt(event));
    case_lead(context.get(), ledger, event);
}

} // namespace

int main(int argc, char **argv)
{
    if (argc != 4) {
        std::cerr << "usage: host ADAPTER PORT LEDGER\n";
        return 2;
    }
    try {
        serve(argv[1], argv[2], argv[3]);
        return 0;
    } catch (const std::exception &failure) {
        std::cerr << failure.what() << '\n';
        return 1;
    }
}
