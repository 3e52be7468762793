namespace Registry.Operations.Checks;

/// <summary>Something a registry stands on, looked at by <c>check</c> and the operations page. One more is one more class, and its line in
/// <see cref="OperationsSetup"/> or its own slice's setup.</summary>
public interface IInstallationCheck
{
    /// <param name="reachOthers">Other machines are asked too, which may take seconds.</param>
    /// <param name="ct">Cancels.</param>
    Task<IReadOnlyList<CheckLine>> RunAsync(bool reachOthers, CancellationToken ct);
}
