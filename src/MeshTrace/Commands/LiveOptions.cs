using System.CommandLine;
using MeshTrace.Captures.Live;
using MeshTrace.Captures.Udp;
using MeshTrace.Live;

namespace MeshTrace.Commands;

/// <summary>The options of commands that receive: from where, how much is remembered, where it is saved.</summary>
internal sealed class LiveOptions
{
    private readonly Option<string[]> _from = new("--from") { HelpName = "FILE", AllowMultipleArgumentsPerToken = false };
    private readonly Option<string[]> _interface = new("--interface") { HelpName = "NAME", AllowMultipleArgumentsPerToken = false };
    private readonly Option<double?> _history = new("--history") { HelpName = "MINUTES" };
    private readonly Option<string?> _keep = new("--keep") { HelpName = "FILE" };
    private readonly Option<bool> _overwrite = new("--overwrite");

    public LiveOptions(Command command)
    {
        command.Add(_from);
        command.Add(_interface);
        command.Add(_history);
        command.Add(_keep);
        command.Add(_overwrite);
    }

    /// <summary>Files to receive from, as typed.</summary>
    public IReadOnlyList<string> From(ParseResult result) => result.GetValue(_from) ?? [];

    /// <summary>Whether files may be replaced.</summary>
    public bool Overwrites(ParseResult result) => result.GetValue(_overwrite);

    /// <summary>True if something is named to receive from.</summary>
    public bool IsAsked(ParseResult result) => From(result).Count > 0 || Interfaces(result).Length > 0;

    private string[] Interfaces(ParseResult result) => result.GetValue(_interface) ?? [];

    /// <summary>What to receive from; not empty.</summary>
    /// <exception cref="UserErrorException">Nothing is named, or something twice.</exception>
    public IReadOnlyList<LiveInput> Inputs(ParseResult result, UdpEncapsulation? udp)
    {
        if (!IsAsked(result))
        {
            throw new UserErrorException(ExitCode.Usage, "nothing is named to receive from",
                "Give --from FILE (a growing file or a pipe), --from - for standard input, or --interface NAME.");
        }
        CheckNames(From(result), "--from", "Name a growing file or a pipe, or - for standard input.");
        CheckNames(Interfaces(result), "--interface", "'meshtrace receive --list-interfaces' shows the names.");
        return [.. From(result).Select(name => new LiveFile(name, udp)), .. Interfaces(result).Select(name => new LiveInterface(name, udp))];
    }

    private static void CheckNames(IReadOnlyList<string> names, string option, string remedy)
    {
        if (names.Any(string.IsNullOrEmpty))
            throw new UserErrorException(ExitCode.Usage, $"{option} names nothing", remedy);
        if (names.GroupBy(name => name).FirstOrDefault(same => same.Count() > 1) is { } twice)
            throw new UserErrorException(ExitCode.Usage, $"{option} names {InputFile.Shown(twice.Key)} twice", "Name each input once.");
    }

    /// <summary>How much is remembered.</summary>
    /// <exception cref="UserErrorException">The length is none that it can be.</exception>
    public LiveLimits Limits(ParseResult result)
    {
        if (result.GetValue(_history) is not { } minutes)
            return LiveLimits.Usual;
        if (minutes is not (>= 1 and <= LiveLimits.LongestMinutes))
            throw new UserErrorException(ExitCode.Usage, "--history is no length that can be remembered", $"Give minutes from 1 to {LiveLimits.LongestMinutes}.");
        return LiveLimits.Usual with { LengthNs = (long)(minutes * LiveLimits.NsPerMinute) };
    }

    /// <summary>Opens the file that everything is saved in, or null where none is named.</summary>
    /// <exception cref="UserErrorException">It is an input, stands there already, or cannot be written.</exception>
    public KeptCapture? Keep(ParseResult result, IReadOnlyList<string> otherFiles)
    {
        if (result.GetValue(_keep) is not { } file)
            return null;
        OutputFile.Check(file, From(result), otherFiles, Overwrites(result), "evening.pcapng", "--keep");
        try
        {
            return KeptCapture.Create(file, $"meshtrace {ProgramVersion.Text}");
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException or ArgumentException or NotSupportedException)
        {
            throw InputFile.CannotWrite(file, problem);
        }
    }
}
