namespace MeshTrace.Commands;

/// <summary>What the user must be told and can do something about: what is wrong, where, and what to do.</summary>
public sealed class UserErrorException : Exception
{
    /// <param name="exitCode">One of <see cref="Commands.ExitCode"/>.</param>
    /// <param name="what">What is wrong and where, safe to show, without final stop.</param>
    /// <param name="remedy">What to do about it, one sentence; empty where <paramref name="what"/> says it.</param>
    /// <param name="inner">What the program met, for developers.</param>
    public UserErrorException(int exitCode, string what, string remedy, Exception? inner = null) : base(what, inner)
    {
        ExitCode = exitCode;
        Remedy = remedy;
    }

    public int ExitCode { get; }
    public string Remedy { get; }
}
