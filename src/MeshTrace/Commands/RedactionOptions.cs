using System.CommandLine;
using MeshTrace.Analysis;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Redaction;
using MeshTrace.Captures.Files;

namespace MeshTrace.Commands;

/// <summary>The options of results that are handed on without names, addresses and keys: see docs/redaction.md.</summary>
internal sealed class RedactionOptions
{
    private readonly Option<bool> _redact = new("--redact"), _keepPayloads = new("--keep-payloads");

    public RedactionOptions(Command command)
    {
        command.Add(_redact);
        command.Add(_keepPayloads);
    }

    /// <summary>True if the result is to be redacted.</summary>
    /// <exception cref="UserErrorException">The captures cannot be read twice, or an option makes no sense without this one.</exception>
    public bool IsAsked(ParseResult result, IReadOnlyList<string> captures)
    {
        bool asked = result.GetValue(_redact);
        if (!asked && result.GetValue(_keepPayloads))
            throw new UserErrorException(ExitCode.Usage, "--keep-payloads says what --redact is to keep", "Give --redact too, or leave it out: without --redact everything is kept.");
        if (asked && captures.Contains(CaptureFile.StandardInput))
            throw new UserErrorException(ExitCode.Usage, "--redact reads the capture twice, which standard input does not allow", "Name a file.");
        return asked;
    }

    /// <summary>Pseudonyms for what a capture told.</summary>
    public CaptureRedaction Of(ParseResult result, CaptureHistory history, AnalysisSettings settings) => new(history, settings, result.GetValue(_keepPayloads));
}
