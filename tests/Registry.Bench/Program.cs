using Registry.Bench;

switch (args)
{
    case ["rules"]:
        return BenchRules.Run();
    default:
        Console.WriteLine("bench rules    pure evaluation of infants on one core, beside the limit of reading their facts");
        return 1;
}
