#include "say.h"

#include "serial.h"

static uint8_t check;

static const uint32_t powers_of_ten[] PROGMEM = {
    1000000000UL, 100000000UL, 10000000UL, 1000000UL, 100000UL, 10000UL, 1000UL, 100UL, 10UL,
};

void say_char(char byte) {
    check ^= (uint8_t)byte;
    serial_put(byte);
}

/* Subtracting powers of ten takes a tenth of the time of ten 32-bit divisions. */
void say_number(uint32_t value) {
    bool started = false;

    for (uint8_t i = 0; i < sizeof powers_of_ten / sizeof powers_of_ten[0]; i++) {
        uint32_t power = pgm_read_dword(&powers_of_ten[i]);
        char digit = '0';

        while (value >= power) {
            value -= power;
            digit++;
        }
        if (started || digit != '0') {
            started = true;
            say_char(digit);
        }
    }
    say_char('0' + (char)value);
}

static char hex_digit(uint8_t value) {
    return value < 10 ? '0' + value : 'A' - 10 + value;
}

void say_line(const struct line *line) {
    uint8_t sum;

    check = 0;
    say_char(line->channel);
    say_char(',');
    say_number(line->tick);
    say_char(',');
    say_number(line->seq);
    if (line->count != 1) {
        say_char(',');
        say_number(line->count);
    }
    sum = check;
    say_char('*');
    say_char(hex_digit(sum >> 4));
    say_char(hex_digit(sum & 15));
    say_char('\n');
}

void say_flash(const char *text) {
    char byte;

    while ((byte = (char)pgm_read_byte(text++))) {
        say_char(byte);
    }
}
