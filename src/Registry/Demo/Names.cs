namespace Registry.Demo;

/// <summary>
/// Names of families: family names put together from syllables, so that they belong to nobody in particular; given names common in many
/// places. Any likeness to a person is chance.
/// </summary>
internal static class Names
{
    private static readonly string[] Heads =
    [
        "Abel", "Adra", "Alba", "Arden", "Bel", "Brin", "Cal", "Car", "Cor", "Dal", "Dor", "El", "Esk", "Fal", "Fen", "Gar",
        "Hal", "Hes", "Iba", "Ila", "Jor", "Kal", "Kes", "Lar", "Lor", "Mar", "Mel", "Nar", "Nor", "Oko", "Or", "Pel", "Quil",
        "Ram", "Ros", "Sal", "Sel", "Tam", "Tor", "Ula", "Val", "Ves", "Wen", "Yar", "Zan", "Áve", "Čer", "Łan", "Ñol", "Söl",
    ];

    private static readonly string[] Middles = ["", "", "a", "an", "ar", "e", "el", "en", "i", "il", "in", "o", "ol", "or", "u", "um"];

    private static readonly string[] Tails =
    [
        "ande", "aro", "ashe", "beck", "court", "dane", "dova", "ello", "enko", "esh", "etti", "field", "ford", "gard", "hara", "holm",
        "iani", "ikov",
        "imba", "ison", "kar", "lund", "mora", "nadi", "ovi", "quist", "rani", "sen", "tani", "uchi", "ura", "wick", "worth", "yara",
    ];

    private static readonly string[] Given =
    [
        "Ada", "Aisha", "Alma", "Amara", "Anika", "Bea", "Carmen", "Chiara", "Dalia", "Dina", "Edith", "Elena", "Esperanza", "Fatima",
        "Freya", "Grace",
        "Hana", "Hye-jin", "Imani", "Inés", "Joan", "Kaja", "Keiko", "Lan", "Leila", "Lena", "Lucía", "Mai", "Maya", "Mei", "Nadia",
        "Ngozi", "Nora",
        "Olive", "Pilar", "Priya", "Rosa", "Ruth", "Sana", "Siobhán", "Tess", "Thandi", "Uma", "Vera", "Wren", "Yara", "Zainab", "Zofia",
    ];

    private static readonly string[] Infants =
    [
        "Aaron", "Ana", "Avery", "Ben", "Chloe", "Dara", "Devi", "Eli", "Ema", "Farah", "Gael", "Hugo", "Ida", "Ivo", "Jada", "Jun", "Kai",
        "Kofi", "Lea", "Leo",
        "Lina", "Luz", "Mateo", "Mila", "Nia", "Nico", "Noor", "Omar", "Otto", "Remy", "Rin", "Sami", "Sofia", "Tariq", "Theo", "Zoe",
    ];

    /// <summary>About one family name in twenty-five is double.</summary>
    public static string Family(Dice dice) => dice.Chance(.04) ? $"{Single(dice)}-{Single(dice)}" : Single(dice);
    public static string Mother(Dice dice) => dice.Of(Given);
    public static string Infant(Dice dice) => dice.Of(Infants);

    private static string Single(Dice dice) => dice.Of(Heads) + dice.Of(Middles) + dice.Of(Tails);
}
