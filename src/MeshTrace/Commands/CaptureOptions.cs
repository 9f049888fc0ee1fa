using System.CommandLine;
using System.Globalization;
using MeshTrace.Analysis;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.Keys;
using MeshTrace.Analysis.Notes;
using MeshTrace.Captures.Files;
using MeshTrace.Captures.Udp;
using MeshTrace.Protocol.Access.Catalogue;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Commands;

/// <summary>What a command works on.</summary>
internal enum CaptureSubject : byte
{
    /// <summary>Captures that it names.</summary>
    Captures,

    /// <summary>A folder, captures of which have their own clocks and no notes.</summary>
    Folder,

    /// <summary>What is being received now.</summary>
    Live,

    /// <summary>Captures that it names, or what is being received now.</summary>
    CapturesOrLive,
}

/// <summary>The options that every command on captures has: which files, and the keys to open them with. A command on a folder has the keys alone.</summary>
internal sealed class CaptureOptions
{
    private const int LongestTextFile = 64 * 1024 * 1024;      // a description of 32 767 elements with every model stays below it

    private const decimal LongestOffsetSeconds = 4_000_000_000;      // more than a clock that began at 1970 can be behind

    private readonly Surroundings _surroundings;
    private readonly Argument<string[]> _captures = new("CAPTURE") { Arity = ArgumentArity.OneOrMore };
    private readonly Option<string?> _network = new("--network") { HelpName = "FILE" };
    private readonly Option<string?> _vendor = new("--vendor-messages") { HelpName = "FILE" };
    private readonly Option<string?> _notes = new("--notes") { HelpName = "FILE" };
    private readonly Option<int?> _udpPort = new("--udp-port") { HelpName = "N" };
    private readonly Option<int?> _udpLinkType = new("--udp-link-type") { HelpName = "N" };
    private readonly Option<string[]> _offsets = new("--receiver-offset") { HelpName = "NAME=SECONDS", AllowMultipleArgumentsPerToken = false };
    private readonly Dictionary<KeyArgumentOption, Option<string[]>> _keys = [];

    public CaptureOptions(Command command, Surroundings surroundings, CaptureSubject subject = CaptureSubject.Captures)
    {
        _surroundings = surroundings;
        if (subject == CaptureSubject.CapturesOrLive)
            _captures.Arity = ArgumentArity.ZeroOrMore;
        if (subject is CaptureSubject.Captures or CaptureSubject.CapturesOrLive)
            command.Add(_captures);
        command.Add(_network);
        foreach (KeyArgumentOption option in KeyArgumentOptions.All)
        {
            var typed = new Option<string[]>(option.OptionName()) { HelpName = option.Form(), AllowMultipleArgumentsPerToken = false };
            _keys[option] = typed;
            command.Add(typed);
        }
        command.Add(_vendor);
        command.Add(_udpPort);
        command.Add(_udpLinkType);
        if (subject == CaptureSubject.Folder)
            return;
        command.Add(_notes);
        command.Add(_offsets);
    }

    /// <summary>The captures named.</summary>
    /// <exception cref="UserErrorException">One of them looks like an option that does not exist.</exception>
    public IReadOnlyList<string> Captures(ParseResult result)
    {
        string[] captures = result.GetValue(_captures) ?? [];
        foreach (string capture in captures)
        {
            if (capture.Length == 0 || (capture[0] == '-' && capture != CaptureFile.StandardInput))
            {
                throw new UserErrorException(ExitCode.Usage, $"there is no option {InputFile.Shown(capture)}",
                    "See 'meshtrace explain --help' for the options; a file whose name begins with '-' is given as './-name'.");
            }
        }
        return captures;
    }

    /// <summary>Files named beside the captures: description, vendor messages, notes.</summary>
    public IReadOnlyList<string> OtherFiles(ParseResult result) => [.. new[] { result.GetValue(_network), result.GetValue(_vendor), result.GetValue(_notes) }.OfType<string>()];

    /// <summary>Reads every file and key that was named.</summary>
    /// <exception cref="UserErrorException">One of them cannot be read.</exception>
    public AnalysisSettings Settings(ParseResult result) => new()
    {
        Description = ReadDescription(result.GetValue(_network)),
        Keys = ReadKeys(result),
        Notes = ReadNotes(result.GetResult(_notes) is null ? null : result.GetValue(_notes)),
        ReceiverOffsets = ReadOffsets(result.GetResult(_offsets) is null ? [] : result.GetValue(_offsets) ?? []),
        Cores = Environment.ProcessorCount,
    };

    /// <summary>How receivers send frames over the network, or null where nothing is said of it.</summary>
    /// <exception cref="UserErrorException">One of the two options is missing, or a number is none that it can be.</exception>
    public UdpEncapsulation? Udp(ParseResult result)
    {
        int? port = result.GetValue(_udpPort), number = result.GetValue(_udpLinkType);
        if (port is null && number is null)
            return null;
        string known = string.Join(", ", UdpEncapsulation.LinkTypes.Select(type => type.ToString()));
        if (port is not { } to || number is not { } content)
        {
            throw new UserErrorException(ExitCode.Usage, port is null ? "--udp-link-type needs --udp-port beside it" : "--udp-port needs --udp-link-type beside it",
                $"Give the port that the receivers send to, and the link type of what they send: {known}.");
        }
        if (to is < 1 or > ushort.MaxValue)
            throw new UserErrorException(ExitCode.Usage, "--udp-port is no UDP port", "Ports go from 1 to 65535.");
        if (UdpEncapsulation.LinkTypes.FirstOrDefault(type => type.Number == content) is not { Number: > 0 } linkType)
            throw new UserErrorException(ExitCode.Usage, "--udp-link-type is no link type that is read in UDP", $"Give one of {known}; docs/captures.md says what they are.");
        return new UdpEncapsulation(to, linkType);
    }

    /// <summary>The same settings with another network description.</summary>
    /// <exception cref="UserErrorException">It cannot be read.</exception>
    public AnalysisSettings Settings(AnalysisSettings common, string description) => common with { Description = ReadDescription(description) };

    /// <summary>The description given for all captures, or null.</summary>
    public string? Network(ParseResult result) => result.GetValue(_network);

    /// <summary>The table of vendor messages, or null.</summary>
    /// <exception cref="UserErrorException">It cannot be read.</exception>
    public VendorCatalogue? VendorMessages(ParseResult result) => ReadVendorMessages(result.GetValue(_vendor));

    private static List<ReceiverOffset> ReadOffsets(string[] typed)
    {
        var offsets = new List<ReceiverOffset>();
        foreach (string text in typed)
        {
            int equals = text.LastIndexOf('=');     // a name may have one, seconds have none
            if (equals <= 0 || !decimal.TryParse(text.AsSpan(equals + 1), NumberStyles.AllowLeadingSign | NumberStyles.AllowDecimalPoint, CultureInfo.InvariantCulture, out decimal seconds)
                || Math.Abs(seconds) > LongestOffsetSeconds)
            {
                throw new UserErrorException(ExitCode.Usage, $"--receiver-offset {InputFile.Shown(text)} is not NAME=SECONDS",
                    "For example --receiver-offset stairs=1.25 for a receiver whose clock is 1.25 s ahead of the first one's, or stairs=-0.5 for one that is behind.");
            }
            offsets.Add(new ReceiverOffset(text[..equals], (long)(seconds * 1_000_000_000)));
        }
        return offsets;
    }

    private NetworkDescription? ReadDescription(string? file)
    {
        if (file is null)
            return null;
        try
        {
            NetworkDescription description = NetworkDescriptionReader.Read(InputFile.Read(file, LongestTextFile, "network description"), file);
            foreach (string repair in description.Repairs)
                _surroundings.Error.WriteLine($"meshtrace: {SafeText.Strip(Path.GetFileName(file))}: {repair}");
            return description;
        }
        catch (NetworkDescriptionException problem)
        {
            throw new UserErrorException(ExitCode.Unreadable, $"the network description cannot be used: {problem.Message.TrimEnd('.')}",
                "Export the Mesh Configuration Database from the provisioning program again, or correct the file at that place.", problem);
        }
    }

    private KeyArguments ReadKeys(ParseResult result)
    {
        IEnumerable<(KeyArgumentOption, string)> typed = KeyArgumentOptions.All.SelectMany(option => (result.GetValue(_keys[option]) ?? []).Select(text => (option, text)));
        try
        {
            return KeyArgumentsReader.Read(typed, _surroundings.Environment, file => InputFile.ReadText(file, KeyArgumentsReader.LongestFile + 1));
        }
        catch (KeyArgumentException problem)
        {
            throw new UserErrorException(ExitCode.Usage, problem.Message.TrimEnd('.'),
                "A key is 32 hexadecimal digits (16 octets), with its index before it where it has one; a private key of a provisioning is 64 (32 octets); see 'meshtrace explain --help'.", problem);
        }
    }

    private static VendorCatalogue? ReadVendorMessages(string? file)
    {
        if (file is null)
            return null;
        try
        {
            return VendorCatalogue.Read(InputFile.ReadText(file, LongestTextFile), file);
        }
        catch (VendorCatalogueException problem)
        {
            throw new UserErrorException(ExitCode.Unreadable, $"the vendor messages cannot be used: {SafeText.Strip(problem.Message.TrimEnd('.'), 400)}",
                "Correct that line; docs/vendor-messages.md describes the form.", problem);
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException)
        {
            throw InputFile.CannotRead(file, "vendor messages", problem);
        }
    }

    private static IReadOnlyList<FieldNote> ReadNotes(string? file)
    {
        if (file is null)
            return [];
        try
        {
            return FieldNotesReader.Read(InputFile.ReadText(file, FieldNotesReader.LongestFile + 1), Path.GetFileName(file));
        }
        catch (FieldNotesException problem)
        {
            throw new UserErrorException(ExitCode.Unreadable, $"the notes cannot be used: {problem.Message.TrimEnd('.')}",
                "Correct that line; docs/notes.md describes the form.", problem);
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException)
        {
            throw InputFile.CannotRead(file, "file of notes", problem);
        }
    }
}
