"""The ways in which a house may write numbers and dates."""

# How numbers and dates are written: language and country, as CLDR names them (checked by a test).
LOCALE_WORDS = {
    "en_GB": "as in Britain: 12,345.6 · 21 June · 14:05",
    "en_IE": "as in Ireland: 12,345.6 · 21 June · 14:05",
    "en_US": "as in the United States: 12,345.6 · June 21 · 2:05 PM",
    "en_CA": "as in Canada, in English: 12,345.6 · June 21 · 2:05 p.m.",
    "en_AU": "as in Australia: 12,345.6 · 21 June · 2:05 pm",
    "en_ZA": "as in South Africa: 12 345,6 · 21 June · 14:05",
    "en_DE": "as in Germany, months in English: 12.345,6 · 21 June · 14:05",
    "en_AT": "as in Austria, months in English: 12.345,6 · 21 June · 14:05",
    "en_CH": "as in Switzerland, months in English: 12’345.6 · 21 June · 14:05",
    "en_NL": "as in the Netherlands, months in English: 12.345,6 · 21 June · 14:05",
    "en_BE": "as in Belgium, months in English: 12.345,6 · 21 June · 14:05",
    "en_DK": "as in Denmark, months in English: 12.345,6 · 21 June · 14.05",
    "en_SE": "as in Sweden, months in English: 12 345,6 · 21 June · 14:05",
    "en_FI": "as in Finland, months in English: 12 345,6 · 21 June · 14.05",
    "de_DE": "in German, as in Germany: 12.345,6 · 21. Juni · 14:05",
    "de_AT": "in German, as in Austria: 12.345,6 · 21. Juni · 14:05",
    "de_CH": "in German, as in Switzerland: 12’345.6 · 21. Juni · 14:05",
    "fr_FR": "as in France, months in English: 12 345,6 · 21 June · 14:05",
    "nl_NL": "as in Dutch, months in English: 12.345,6 · 21 June · 14:05",
}
