namespace Registry.Rules;

/// <summary>
/// The check digit of a National Provider Identifier: ten figures, the first 1 or 2, the last by the Luhn formula (ISO/IEC 7812-1, annex B)
/// over 80840 and the other nine. Source: CMS, "Requirements for National Provider Identifier (NPI) and NPI Check Digit"
/// (NPIcheckdigit.pdf), which reckons 123456789 to 1234567893; 80840 is the issuer prefix of United States health applications. The one
/// place of this rule; its second way to reckon (the constant 24 for the prefix) stands in its test alone.
/// </summary>
public static class Npi
{
    private const string Prefix = "80840";
    private const int Length = 10;

    public static bool IsValid(string text) => text.Length == Length && text[0] is '1' or '2' && text.All(char.IsAsciiDigit)
        && LuhnSum(Prefix + text) % 10 == 0;

    /// <summary>Every other figure from the right, the last left out, counts twice, its figures added.</summary>
    private static int LuhnSum(string figures)
    {
        var sum = 0;
        for (var i = 0; i < figures.Length; i++)
        {
            var figure = figures[^(i + 1)] - '0';
            if (i % 2 == 1) figure = figure * 2 > 9 ? (figure * 2) - 9 : figure * 2;
            sum += figure;
        }

        return sum;
    }
}
