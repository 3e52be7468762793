using Registry.Bench;
using Registry.Bench.Quality;

switch (args)
{
    case ["rules"]:
        return BenchRules.Run();
    case ["intake", "--rows", var rows] when int.TryParse(rows, out var count) && count > 0:
        return await BenchIntake.RunAsync(count);
    case ["recompute", "--infants", var infants] when int.TryParse(infants, out var count) && count > 0:
        return await BenchRecompute.RunAsync(count);
    case ["single"] or ["single", "--seconds", _]:
        return await BenchSingle.RunAsync(
            args is [_, _, var seconds] ? int.Parse(seconds, System.Globalization.CultureInfo.InvariantCulture) : 15);
    case ["trust"]:
        return await BenchTrust.RunAsync(20_000);
    case ["trust", "reads"]:
        return await BenchTrust.RunAsync(20_000, attack: false);
    case ["trust", "--infants", var infants] when int.TryParse(infants, out var count) && count > 0:
        return await BenchTrust.RunAsync(count);
    case ["pages"]:
        return await BenchPages.RunAsync([20_000, 200_000]);
    case ["pages", "--births", .. var sizes] when sizes.Length > 0 && sizes.All(s => int.TryParse(s, out var births) && births > 0):
        return await BenchPages.RunAsync([.. sizes.Select(int.Parse)]);
    case ["day"]:
        return await BenchDay.RunAsync([20_000, 1_000_000]);
    case ["day", "--births", .. var sizes] when sizes.Length > 0 && sizes.All(s => int.TryParse(s, out var births) && births > 0):
        return await BenchDay.RunAsync([.. sizes.Select(int.Parse)]);
    case ["v2"]:
        return await BenchV2.RunAsync();
    case ["fuzz", "--inputs", var inputs] when int.TryParse(inputs, out var count) && count > 0:
        return await BenchFuzz.RunAsync(count, overHttpEvery: 50);
    case ["quality"]:
        return BenchQuality.Run(300, 100, null);
    case ["quality", "best"]:
        return BenchQuality.Best(Registry.Rules.Policy.Default);
    case ["quality", "--years", var years, "--runs", var runs, "--false-flags", var flags]:
        return BenchQuality.Run(Whole(years), Whole(runs), Whole(flags));
    case ["quality", "--years", var years, "--runs", var runs, "--false-flags", var flags, "--seeds", var seeds]:
        return BenchQuality.Run(Whole(years), Whole(runs), Whole(flags), Whole(seeds));
    case ["quality", "--years", var years, "--runs", var runs, "--false-flags", var flags, "--seeds", var seeds, "--only", var name]:
        return BenchQuality.Run(Whole(years), Whole(runs), Whole(flags), Whole(seeds), name);
    case ["quality", "nightly"]:
        return await BenchNightly.RunAsync(20_000, 200_000);
    case ["quality", "nightly", "--births", var few, var many]:
        return await BenchNightly.RunAsync(Whole(few), Whole(many));
    case ["trust", "encryption"]:
        return await BenchTrustEncryption.RunAsync(50_000);
    case ["search"]:
        return await BenchSearch.RunAsync([100_000, 1_000_000]);
    case ["search", "--infants", var infants] when int.TryParse(infants, out var count) && count >= 20_000:
        return await BenchSearch.RunAsync([count]);
    default:
        Console.WriteLine("bench rules    pure evaluation of infants on one core, beside the limit of reading their facts");
        Console.WriteLine("bench intake --rows 500000    CSV to committed statuses, beside raw binary COPY of the same rows");
        Console.WriteLine("bench recompute --infants 1000000    every status again, and the nightly sweep, beside COPY of facts and "
            + "statuses");
        Console.WriteLine("bench single [--seconds 15]    one screening result per POST, 32 clients, beside pgbench with the same inserts");
        Console.WriteLine("bench trust [--infants 20000]    list, record and intake with and without row security and the access trail, in "
            + "regions of that size and ten times it; then a table of attacks");
        Console.WriteLine("bench search [--infants N]    finding an infant by name, day, phone and number, as a page and beneath it, beside the "
            + "bare indexed query, in regions of 100,000 and 1,000,000");
        Console.WriteLine("bench pages [--births 20000 200000 …]    the pages of sites beside the bare statements that sum their counts, in "
            + "regions of these sizes, all measured in turn");
        Console.WriteLine("bench day [--births 20000 1000000 …]    the work list, the ward list and a record, as pages and beneath them, beside "
            + "the bare indexed statements, in regions of these sizes");
        Console.WriteLine("bench trust reads    the same without the attacks on the doors, which take half an hour");
        Console.WriteLine("bench v2    HL7 v2 messages to rows, beside two npm parsers reading the same messages");
        Console.WriteLine("bench fuzz --inputs 1000000    mutated files and messages through every parser, one in 50 also over HTTP");
        Console.WriteLine("bench trust encryption    births with and without the encryption of what reaches a family");
        Console.WriteLine("bench quality [--years 300 --runs 100 --false-flags 2 [--seeds 0 [--only refers]]]    imagined region-years without a fault and "
            + "with planted ones: false flags, days until found, causes named");
        Console.WriteLine("bench quality nightly [--births 20000 200000]    the night's look at every site and unit beside the bare "
            + "statement that adds up the same sessions");
        Console.WriteLine("bench quality best    how many of the planted changes of refers any method could find in 30 days");
        return 1;
}

static int Whole(string text) => int.Parse(text, System.Globalization.CultureInfo.InvariantCulture);
