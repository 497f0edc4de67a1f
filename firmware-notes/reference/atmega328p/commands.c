#include "commands.h"

#include <string.h>

#include <util/atomic.h>

#include "board.h"
#include "clock.h"
#include "queue.h"
#include "say.h"
#include "sensors.h"

void commands_say_hello(void) {
    SAY("# format: pulses 1\n"
        "# tick_hz: 1000000\n"
        "# tick_bits: 32\n"
        "# seq_bits: 16\n"
        "# targets: " TARGETS "\n"
        "# board: " BOARD_NAME "\n");
}

static void say_per_channel(uint32_t (*value_of)(uint8_t channel)) {
    for (uint8_t channel = 0; channel < CHANNELS; channel++) {
        say_char(' ');
        say_char(CHANNEL_LETTERS[channel]);
        say_char('=');
        say_number(value_of(channel));
    }
    say_char('\n');
}

void commands_say_ignored(void) {
    SAY("# ignored:");
    say_per_channel(sensors_ignored);
}

static void say_settle(void) {
    SAY("# settle_us:");
    say_per_channel(sensors_settle);
}

static void say_state(void) {
    uint32_t tick, lost;
    uint16_t seq;

    ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
        tick = clock_now();
        seq = queue_next_seq();
        lost = queue_lost_total;
    }
    SAY("# state: tick=");
    say_number(tick);
    SAY(" seq=");
    say_number(seq);
    SAY(" lost=");
    say_number(lost);
    say_char('\n');
    commands_say_ignored();
    say_settle();
}

/* Microseconds from text; false unless it is a plain number within bounds. */
static bool settle_from(const char *text, uint32_t *micros) {
    uint32_t value = 0;

    if (!*text) {
        return false;
    }
    for (; *text; text++) {
        if (*text < '0' || *text > '9') {
            return false;
        }
        value = value * 10 + (uint32_t)(*text - '0');
        if (value > LONGEST_SETTLE_US) {
            return false;
        }
    }
    *micros = value;
    return true;
}

static void set_settle(const char *arguments) {
    static const char letters[] = CHANNEL_LETTERS;
    const char *letter = *arguments ? strchr(letters, *arguments) : 0;
    uint8_t first = 0, last = CHANNELS - 1;
    uint32_t micros;

    if (letter && arguments[1] == ' ') {
        first = last = (uint8_t)(letter - letters);
        arguments += 2;
    }
    if (!settle_from(arguments, &micros)) {
        SAY("# refused: settle takes a channel letter or none, then 0 to 100000 microseconds\n");
        return;
    }
    for (uint8_t channel = first; channel <= last; channel++) {
        sensors_set_settle(channel, micros);
    }
    say_settle();
}

void commands_answer(const char *command) {
    if (!command) {
        SAY("# refused: command too long or damaged\n");
    } else if (!strcmp_P(command, PSTR("hello"))) {
        commands_say_hello();
    } else if (!strcmp_P(command, PSTR("state"))) {
        say_state();
    } else if (!strncmp_P(command, PSTR("settle "), 7)) {
        set_settle(command + 7);
    } else {
        SAY("# refused: no such command; there are hello, state, settle\n");
    }
}
